"""What it will cost to replace what wears out, and the same as files."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from core.views import StaffRequest
from desk.pages.replacement import (
    FIRST_HEADER,
    KINDS_HEADER,
    YEARS_HEADER,
    answer_of,
    first_lines,
    first_rows,
    kind_lines,
    kind_rows,
    marks_of,
    method_of,
    school_lines,
    year_lines,
    year_rows,
    years_chart,
)
from desk.selectors.replacement import Need, need_of
from desk.views.value import VIEW, File, ValueBase, ValueExportView
from inventory.views.loading_totals import shows_progress


class ReplacementView(ValueBase):
    permission_required = VIEW

    @shows_progress
    def get(self, request: StaffRequest) -> HttpResponse:
        names = self.names()
        need = need_of(schools=self.keys(), today=timezone.localdate())
        context = {
            "need": need,
            "answer": answer_of(need),
            "years": year_lines(need),
            "chart": years_chart(need) if need.facts else None,
            "first": first_lines(need, names=names),
            "schools": school_lines(need, names=names) if len(names) > 1 else [],
            "kinds": kind_lines(need),
            "marks": marks_of(need),
            "method": method_of(need),
        }
        return render(request, "desk/replacement.html", context)


class ReplacementExportView(ValueExportView):
    """The years, every instrument in the order of replacing, or how long each kind lasts, as a file."""

    permission_required = VIEW
    stem = "replacement"
    heading = _("Replacement need")
    back_page = "desk:replacement"

    def makers(self) -> Mapping[str, Callable[[str], File]]:
        return {"years": self.years, "first": self.first, "kinds": self.kinds}

    def need(self) -> Need:
        return need_of(schools=self.keys(), today=timezone.localdate())

    def years(self, _what: str) -> File:
        need = self.need()
        return File(YEARS_HEADER, year_rows(need), day=need.today, count=len(need.years))

    def first(self, _what: str) -> File:
        need = self.need()
        return File(FIRST_HEADER, first_rows(need, names=self.names()), day=need.today, count=len(need.facts))

    def kinds(self, _what: str) -> File:
        need = self.need()
        return File(KINDS_HEADER, kind_rows(need), day=need.today, count=len(need.curves))
