"""What a guardian reads of a link: the letter, the paper with the code, the page."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from inventory.catalog.load.language import stored_language
from loans.models import SigningLink
from loans.selectors.families import day_in, thing_in, time_in, words_in
from loans.selectors.signing_links import Standing, address_of

GONE = {
    Standing.SIGNED: "signed",
    Standing.ELSEWHERE: "signed",
    Standing.DENIED: "denied",
    Standing.EXPIRED: "expired",
    Standing.OVER: "over",
}
ASKS_AGAIN = "replaced"  # whatever else ended it: there is another link, or the school has to send one


@stored_language()
def placeholders_of(link: SigningLink) -> dict[str, str]:
    """Return what letter and paper fill in. The student's name is not among it: a link may reach the wrong person."""
    language, loan = link.guardian.language, link.loan
    return {
        "name": link.guardian.name,
        "school": loan.school.name,
        "phone": loan.school.phone or "—",
        "kind": thing_in(language, loan.instrument.kind.name),
        "number": loan.instrument.asset_number,
        "day": day_in(language, timezone.localdate(link.expires_at)),
    }


def link_letter(link: SigningLink, *, token: str, home: str) -> dict[str, str]:
    """Return the letter as it is handed in."""
    words, values = words_in(link.guardian.language), placeholders_of(link)
    text = words["link_letter"].format(address=address_of(token, home=home), **values)
    return {"subject": words["link_subject"].format(**values), "words": text, "to": link.guardian.email}


def signing_page(link: SigningLink) -> dict[str, Any]:
    """Return the words around the agreement, in the guardian's language."""
    language = link.guardian.language
    words, values = words_in(language), placeholders_of(link)
    return {
        "words": words,
        "language": language,
        "cover": words["link_cover"].format(**values),
        "intro": words["link_intro"].format(**values),
        "until": words["link_until"].format(**values),
        "questions": words["link_questions"].format(**values),
    }


def signed_page(link: SigningLink) -> dict[str, Any]:
    """Return what whoever has just signed reads above the agreement."""
    agreement, language = link.loan.agreement, link.guardian.language
    day, time = day_in(language, timezone.localdate(agreement.signed_at)), time_in(language, agreement.signed_at)
    signed = words_in(language)["link_signed"].format(name=agreement.guardian_signer, day=day, time=time)
    return signing_page(link) | {"signed": signed}


def gone_page(link: SigningLink, standing: Standing) -> dict[str, Any]:
    """Return what a link says that no longer opens anything: nothing of the loan, and nobody's name."""
    page = signing_page(link)
    words = page["words"]
    return page | {"title": words["link_gone"], "gone": words[f"link_was_{GONE.get(standing, ASKS_AGAIN)}"]}


def paused_page(link: SigningLink) -> dict[str, Any]:
    """Return what a link says that was opened too often: it opens again, so that nobody throws it away."""
    page = signing_page(link)
    return page | {"title": page["words"]["link_rests"], "gone": page["words"]["link_paused"]}


ON_DAY = {
    Standing.WAITS: _("Waiting to be mailed"),
    Standing.SENT: _("Sent on %(day)s"),
    Standing.OPENED: _("Opened on %(day)s"),
    Standing.DENIED: _("Not my child"),
    Standing.EXPIRED: _("Expired on %(day)s"),
    Standing.CHANGED: _("Replaced by a newer agreement"),
    Standing.REVOKED: _("Revoked on %(day)s"),
    Standing.UNSENT: _("Not mailed: the mail server refused it"),
}
PRINTED = _("Printed on %(day)s")


def link_words(link: SigningLink, standing: Standing) -> str:
    """Return where the link of an unsigned loan stands, as a list says it: "Sent on Nov 3, 2026"."""
    is_printed = standing is Standing.SENT and link.way == SigningLink.Way.PRINT
    words = PRINTED if is_printed else ON_DAY.get(standing, standing.label)
    return str(words) % {"day": link_line(link, standing)["since"]}


def link_line(link: SigningLink, standing: Standing) -> dict[str, Any]:
    """Return how staff read of a link: to whom, which way, and where it stands since when."""
    since = {
        Standing.WAITS: link.made_at,
        Standing.SENT: link.sent_at,
        Standing.OPENED: link.opened_at,
        Standing.EXPIRED: link.expires_at,
    }.get(standing, link.ended_at)
    return {
        "link": link,
        "standing": standing.label,
        "since": full_day(timezone.localdate(since)) if since else "",
        "until": full_day(timezone.localdate(link.expires_at)) if not link.ended else "",
    }
