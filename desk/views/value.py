"""What the fleet is worth on a day, what a fiscal year changed, and both as files."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.sheets import OutValue
from core.tables import FILE_FORMS
from core.views import StaffRequest, StaffView
from desk.forms.value import FiscalYearForm, ValueForm
from desk.pages.value import (
    SCHEDULE_HEADER,
    SCHEDULE_ON_PAPER,
    SUMS_HEADER,
    YEAR_HEADER,
    figures_of,
    kind_lines,
    marks_of,
    method_of,
    movement_groups,
    schedule_rows,
    school_lines,
    sums_rows,
    year_lines,
    year_rows,
    years_offered,
)
from desk.selectors.value import FleetValue, fiscal_year_begins, fleet_value_kept, trade_of, valued, written_on
from desk.selectors.value_year import FiscalYear, fiscal_year_kept, fiscal_year_of, movements
from inventory.catalog.load import catalog
from inventory.models import schools_of
from inventory.models.places import school_keys
from inventory.rules.depreciation import fiscal_year
from inventory.selectors.past import AsOf
from inventory.views.loading_totals import shows_progress

VIEW = "desk.view_value"


@dataclass(frozen=True, slots=True)
class File:
    header: Sequence[Any]
    rows: Iterator[tuple[OutValue, ...]]
    day: date
    count: int  # of the rows
    on_paper: Sequence[int] | None = None  # the columns that there is room for; None: all


class ValueBase(StaffView, is_base=True):
    """Pages about the schools where the user may see values."""

    def names(self) -> dict[int, str]:
        return dict(schools_of(self.request.user, VIEW).order_by("name").values_list("pk", "name"))

    def keys(self) -> frozenset[int] | None:
        return school_keys(self.request.user, VIEW)

    def fleet(self, as_of: AsOf) -> FleetValue:
        return fleet_value_kept(as_of, schools=self.keys(), today=timezone.localdate())

    def fiscal_year(self, first: date, last: date) -> FiscalYear:
        keys = self.keys()
        if keys is None:
            return fiscal_year_kept(first, last, today=timezone.localdate())
        return fiscal_year_of(first, last, schools=keys)

    def year(self) -> FiscalYearForm:
        today = timezone.localdate()
        return FiscalYearForm(self.request.GET.dict(), years=years_offered(today, trade=catalog()))


class ValueView(ValueBase):
    permission_required = VIEW

    @shows_progress
    def get(self, request: StaffRequest) -> HttpResponse:
        form = ValueForm(request.GET.dict(), today=timezone.localdate())
        as_of = form.as_of()
        fleet = self.fleet(as_of)
        context = {
            "form": form,
            "as_of": as_of,
            "query": request.GET.urlencode() if form.is_valid() else "",
            "stats": figures_of(fleet),
            "total": fleet.total,
            "schools": school_lines(fleet, names=self.names()),
            "kinds": kind_lines(fleet),
            "marks": marks_of(fleet.total, is_now=as_of == AsOf(timezone.localdate())),
            "method": method_of(fleet),
            "may_sample": request.user.has_perm("inventory.view_sample"),
        }
        return render(request, "desk/value.html", context, status=200 if form.is_valid() else 422)


class ValueYearView(ValueBase):
    """What came, went and moved in a fiscal year, by school."""

    permission_required = VIEW

    @shows_progress
    def get(self, request: StaffRequest) -> HttpResponse:
        form, names, keys = self.year(), self.names(), self.keys()
        first, last = fiscal_year(form.first, begins=fiscal_year_begins(catalog()))
        year = self.fiscal_year(first, last)
        context = {
            "form": form,
            "first": first,
            "last": last,
            "schools": year_lines(year, names=names),
            "groups": movement_groups(year, names=names, seen=keys),
        }
        return render(request, "desk/value_year.html", context)


class ValueExportView(ValueBase):
    """The sums by school or kind, the schedule of every instrument, or what a fiscal year changed, as a file."""

    permission_required = VIEW
    stem = "value"  # of the file's name
    heading = _("Value")
    back_page = "desk:value"

    def get(self, request: StaffRequest, what: str, form: str) -> HttpResponseBase:
        makers = self.makers()
        if what not in makers or form not in FILE_FORMS:
            raise Http404("no such file")
        file = makers[what](what)
        keys, name = self.keys(), f"{self.stem}-{what}-{file.day}.{form}"
        title = f"{self.heading} {file.day}"
        return self.list_file(
            name=name, what=f"{self.stem} {what}", title=title, header=file.header, rows=file.rows, count=file.count,
            schools=list(keys or self.names()), back=reverse(self.back_page), on_paper=file.on_paper,
        )  # fmt: skip

    def makers(self) -> Mapping[str, Callable[[str], File]]:
        return {"schools": self.sums, "kinds": self.sums, "schedule": self.schedule, "year": self.changes}

    def as_of(self) -> AsOf:
        form = ValueForm(self.request.GET.dict(), today=timezone.localdate())
        if not form.is_valid():
            raise Http404("no such day")
        return form.as_of()

    def sums(self, what: str) -> File:
        as_of = self.as_of()
        fleet = self.fleet(as_of)
        lines = school_lines(fleet, names=self.names()) if what == "schools" else kind_lines(fleet)
        first = gettext("School") if what == "schools" else gettext("Kind")
        return File((first, *SUMS_HEADER), sums_rows(lines), day=as_of.on, count=len(lines))

    def schedule(self, _what: str) -> File:
        as_of = self.as_of()
        trade, count = trade_of(as_of), self.fleet(as_of).total.instruments
        some = valued(as_of, trade=trade, schools=self.keys())
        rows = schedule_rows(some, names=self.names(), trade=trade, texts=written_on)
        return File(SCHEDULE_HEADER, rows, day=as_of.on, count=count, on_paper=SCHEDULE_ON_PAPER)

    def changes(self, _what: str) -> File:
        first, last = fiscal_year(self.year().first, begins=fiscal_year_begins(catalog()))
        counts = self.fiscal_year(first, last).counts.values()
        rows = year_rows(movements(first, last, schools=self.keys()), names=self.names(), trade=catalog())
        return File(YEAR_HEADER, rows, day=last, count=sum(one.instruments for one in counts))
