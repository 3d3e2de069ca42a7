"""Lists as each person left them: what they were narrowed to, how they were sorted, which columns are seen.

What is remembered is led on to, so that it stands in the address: a link sent to somebody else shows what its sender
saw. Only what one does on the list itself is remembered, no link that one follows to it, and never what is typed.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, cast
from urllib.parse import urlencode, urlsplit

from django import forms
from django.http import HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.shortcuts import redirect
from django.utils import timezone

from core.services.lists import keep_list
from core.tables import BaseTable
from core.views.base import StaffRequest, StaffView

SORT, ASKED, HIDDEN = "sort", "asked", "hidden"
LONGEST = 60  # characters of a filter's value
MOST = 30  # columns


class RememberedView(StaffView, is_base=True):
    """A page with one table that each person may have as they left it; ``list_name`` says which list it is."""

    list_name: ClassVar[str]

    def kept(self) -> Mapping[str, Any]:
        return cast("Mapping[str, Any]", self.request.user.lists.get(self.list_name, {}))

    def keep(self, **changes: Any) -> None:
        kept = {name: value for name, value in {**self.kept(), **changes}.items() if value}
        if kept != self.kept():
            keep_list(name=self.list_name, kept=kept, actor=self.request.user, at=timezone.now())

    def is_from_here(self) -> bool:
        """Whether this was asked for on the list itself."""
        came = urlsplit(self.request.headers.get("Referer", ""))
        return bool(self.request.htmx) or (came.path, came.netloc) == (self.request.path, self.request.get_host())

    def to_kept_list(self) -> HttpResponse | None:
        """Return the way to the list as it was left; None where the address says what is wanted, or nothing is kept."""
        filters = self.kept().get(ASKED)
        if not filters or self.request.GET or self.request.htmx or self.is_from_here():
            return None
        return redirect(f"{self.request.path}?{urlencode(filters)}")

    def remember(self, form: forms.Form, table: BaseTable) -> None:
        """Keep what was asked for on the list itself, and show the columns that are wanted. The form is validated."""
        given = self.request.GET
        if self.is_from_here():
            names = [name for name in form.fields if is_choice(form, name) and name not in form.errors]
            filters = {name: given[name] for name in names if given.get(name) and not is_usual(form, name, given[name])}
            if given.get(SORT, "").lstrip("-") in table.base_columns:
                filters[SORT] = given[SORT]
            self.keep(asked={name: value for name, value in filters.items() if len(value) <= LONGEST})
        first = next((name for name in table.sequence if name not in {*table.exclude, "pick"}), "")
        table.choosable = [name for name in table.sequence if name not in {*table.exclude, "pick", first}]
        table.is_kept = bool(self.kept())
        if given.get("file") is None:
            hidden = {*self.kept().get(HIDDEN, ())}.intersection(table.choosable)
            table.exclude = (*table.exclude, *hidden)

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponseBase:
        """Keep which columns are seen, or forget what is kept of the list; anything else is the page's own."""
        if "offered" not in request.POST:
            page: Any = super()
            return page.post(request, **lookup) if hasattr(page, "post") else self.http_method_not_allowed(request)
        came = urlsplit(request.headers.get("Referer", ""))
        if "first" in request.POST:
            keep_list(name=self.list_name, kept={}, actor=request.user, at=timezone.now())
            return HttpResponseRedirect(request.path)
        offered = {name for name in request.POST.getlist("offered")[:MOST] if name.isidentifier()}
        before = {*self.kept().get(HIDDEN, ())} - offered
        self.keep(hidden=sorted(before | (offered - {*request.POST.getlist("shown")}))[:MOST])
        same = came.path == request.path and came.query
        return HttpResponseRedirect(f"{request.path}?{came.query}" if same else request.path)


def is_choice(form: forms.Form, name: str) -> bool:
    """Whether it takes one of its own choices only; what is typed may name somebody."""
    return hasattr(form.fields[name], "choices")


def is_usual(form: forms.Form, name: str, value: str) -> bool:
    """Whether it is the first choice of its field, which a list shows by itself."""
    first: tuple[Any, Any] | None = next(iter(getattr(form.fields[name], "choices", ())), None)
    return first is not None and str(first[0]) == value
