"""Exceptions: how many there are by rule, the rows of one, and all of them as a file."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.tables import FILE_FORMS
from core.views import StaffRequest, StaffView
from desk.pages.exceptions import HEADER, Line, exception_rows, line_of, rule_lines
from desk.selectors.exceptions import RULES, VIEW, never_issued
from inventory.models import Instrument, schools_of
from repairs.selectors.shops import approval_limit

PER_PAGE = 50
AT_ONCE = 500


class ExceptionsBase(StaffView, is_base=True):
    """Pages about what the rules find at the schools that the user sees."""

    def rows(self, rule: str) -> QuerySet[Any]:
        return RULES[rule].rows(self.request.user, timezone.localdate())

    def lines(self, rule: str, rows: QuerySet[Any]) -> list[Line]:
        """These rows of a rule as lines. One query, two for the faults that keep an instrument in."""
        way = "" if rows.model is Instrument else "instrument__"
        some = list(rows.select_related(f"{way}school"))
        reasons = never_issued([row.pk for row in some]) if rule == "never-issue" else {}
        return [line_of(rule, row, reasons=reasons, limit=approval_limit()) for row in some]


class ExceptionsView(ExceptionsBase):
    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponse:
        counts = {rule: self.rows(rule).count() for rule in RULES}
        return render(request, "desk/exceptions.html", {"rules": rule_lines(counts), "total": sum(counts.values())})


class ExceptionView(ExceptionsBase):
    """The rows of one rule, a page at a time."""

    permission_required = VIEW

    def get(self, request: StaffRequest, rule: str) -> HttpResponse:
        if rule not in RULES:
            raise Http404("no such rule")
        page = Paginator(self.rows(rule), PER_PAGE).get_page(request.GET.get("page"))
        rows: Any = page.object_list
        context = {"rule": RULES[rule], "page": page, "lines": self.lines(rule, rows)}
        return render(request, "desk/exception.html", context)


class ExceptionsExportView(ExceptionsBase):
    """The rows of every rule in one file."""

    permission_required = VIEW

    def get(self, request: StaffRequest, form: str) -> HttpResponseBase:
        if form not in FILE_FORMS:
            raise Http404("no such file")
        count = sum(self.rows(rule).count() for rule in RULES)
        schools = list(schools_of(request.user, VIEW).values_list("pk", flat=True))
        name, rows = f"exceptions-{timezone.localdate()}.{form}", exception_rows(self.all_lines())
        return self.list_file(
            name=name, what="exceptions", title=gettext("Exceptions"), header=HEADER, rows=rows, count=count,
            schools=schools, back=reverse("desk:exceptions"),
        )  # fmt: skip

    def all_lines(self) -> Iterator[tuple[str, Line]]:
        for rule in RULES:
            keys = list(self.rows(rule).values_list("pk", flat=True))
            for start in range(0, len(keys), AT_ONCE):
                some = self.rows(rule).filter(pk__in=keys[start : start + AT_ONCE])
                yield from ((rule, line) for line in self.lines(rule, some))
