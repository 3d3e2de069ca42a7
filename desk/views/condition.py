"""The condition of the fleet: a page, a paper, and the same as files."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.views import StaffRequest
from desk.forms.value import ConditionForm
from desk.pages.condition import GROUPS, MONTHS_HEADER, SUMS_HEADER, group_rows, groups_of, month_rows, page_of
from desk.pdf import condition_pdf
from desk.selectors.condition import FleetCondition, condition_of, months_of
from desk.views.value import VIEW, File, ValueBase, ValueExportView
from inventory.models import schools_of
from inventory.views.loading_totals import shows_progress

MONTHS_SHOWN = 36


class ConditionBase(ValueBase, is_base=True):
    """One school, or all that the user may see."""

    @cached_property
    def form(self) -> ConditionForm:
        return ConditionForm(self.request.GET or None, schools=schools_of(self.request.user, VIEW).order_by("name"))

    def keys(self) -> frozenset[int] | None:
        school = self.form.chosen
        return super().keys() if school is None else frozenset({school.pk})

    def found(self) -> FleetCondition:
        return condition_of(schools=self.keys(), today=timezone.localdate())

    def shown_names(self) -> dict[int, str]:
        keys = self.keys()
        return {pk: name for pk, name in self.names().items() if keys is None or pk in keys}

    def page(self) -> dict[str, Any]:
        names = self.shown_names()
        months = months_of(schools=self.keys(), most=MONTHS_SHOWN)
        of = next(iter(names.values()), "") if len(names) == 1 else gettext("All schools")
        return page_of(self.found(), months, names=names, of=of)


class ConditionView(ConditionBase):
    permission_required = VIEW

    @shows_progress
    def get(self, request: StaffRequest) -> HttpResponse:
        context = {"form": self.form, "page": self.page(), "query": request.GET.urlencode()}
        return render(request, "desk/condition.html", context)


class ConditionPdfView(ConditionBase):
    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponse:
        page, now = self.page(), timezone.now()
        return self.export_pdf(
            lambda: condition_pdf(page, at=now), what="condition", schools=list(self.shown_names()), name="condition.pdf", back=redirect("desk:condition"),
            failed=gettext("The PDF could not be made. Use this page or the spreadsheets."),
        )  # fmt: skip


class ConditionExportView(ConditionBase, ValueExportView):
    """A table of the page as a file."""

    permission_required = VIEW
    stem = "condition"
    heading = _("Condition")
    back_page = "desk:condition"

    def makers(self) -> Mapping[str, Callable[[str], File]]:
        return {"months": self.months, **dict.fromkeys(GROUPS, self.groups)}

    def groups(self, what: str) -> File:
        found = self.found()
        group = next(
            one for one in groups_of(found, names=self.shown_names(), with_schools=True) if one["code"] == what
        )
        header = (group["first"], *SUMS_HEADER)
        return File(header, group_rows(group["lines"]), day=found.today, count=len(group["lines"]))

    def months(self, _what: str) -> File:
        months = months_of(schools=self.keys(), most=MONTHS_SHOWN)
        return File(MONTHS_HEADER, month_rows(months), day=timezone.localdate(), count=len(months))
