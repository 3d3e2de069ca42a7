"""Lists that are searched by what may be a person's name: the words are posted, and no address ever holds them.

Not the browser's history, not the log of a server or proxy, not what the next site is told: the address has a key, and
the words stand in the session for half an hour at most (``core.forgetting``), and go with the log-out.
"""

from __future__ import annotations

import secrets

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase, HttpResponseRedirect, QueryDict
from django.utils import timezone
from django.utils.translation import gettext as _

from core.forgetting import SEARCHES, searches_in
from core.views.base import StaffRequest, StaffView
from core.views.later import SEARCH, WORDS

MOST = 50
LONGEST = 100


class SearchedView(StaffView, is_base=True):
    """A list with a search box named "q". Posting it leads to the list's address with the words' key."""

    def post(self, request: StaffRequest) -> HttpResponseBase:
        query = request.POST.copy()
        words = " ".join(str(query.get(WORDS, "")).split())[:LONGEST]
        for name in (WORDS, SEARCH, "page", "csrfmiddlewaretoken"):
            query.pop(name, None)
        if words:
            query[SEARCH] = keep_words(request, words)
        return HttpResponseRedirect(f"{request.path}?{query.urlencode()}")

    def query(self) -> QueryDict | None:
        """Return what is asked of the list, with the words put back; None where nothing is."""
        return self.with_words(self.request.GET)

    def with_words(self, query: QueryDict) -> QueryDict | None:
        """Return the same with the words in place of their key; None where nothing is asked."""
        given = query.copy()
        given.pop(WORDS, None)
        key = given.get(SEARCH, "")
        words, _at = searches_in(self.request.session, at=timezone.now()).get(key, ("", 0))
        if words:
            given[WORDS] = words
        elif key and not self.request.htmx:
            messages.info(self.request, _("Your search is no longer kept. Type it again."))
        return given or None


def list_filter(query: QueryDict) -> list[tuple[str, str]]:
    """Return the filter of a list for another form, which takes the list along; the words by their key."""
    return [(name, str(value)) for name, value in query.items() if name not in {WORDS, "page", "sort"}]


def keep_words(request: HttpRequest, words: str) -> str:
    """Keep the words in the session and return their key; the same words have the same key, and the oldest go."""
    now = timezone.now()
    kept = searches_in(request.session, at=now)
    key = next((known for known, (held, _at) in kept.items() if held == words), "") or secrets.token_urlsafe(9)
    kept.pop(key, None)
    kept[key] = [words, int(now.timestamp())]
    request.session[SEARCHES] = dict(list(kept.items())[-MOST:])
    return key
