"""Care that comes round: the list, a class-set day, what was done, and the student's card."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import get_language, gettext, ngettext
from django.views import View

from core.responses import file_response
from core.views import StaffRequest, StaffView, pdf_response, row_or_404
from inventory.access import has_perm_at_school
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.exceptions import RefusedError
from inventory.models import InstrumentQuerySet, School, schools_of
from inventory.selectors.register import lost_kind
from inventory.views.loading_totals import shows_progress
from repairs.forms.care import CareDoneForm, CareFilterForm
from repairs.models import CareDone
from repairs.pdf import care_card_pdf, care_day_pdf
from repairs.selectors.care import CareDay, care_day, care_overview, cared_for
from repairs.services.care import record_care_of_many, withdraw_care

SHOWN = 50  # instruments of each piece of care, until all are asked for


class CareView(StaffView):
    """What is due, by school and kind, the longest overdue first."""

    permission_required = "repairs.view_care"

    @shows_progress
    def get(self, request: StaffRequest) -> HttpResponse:
        form = CareFilterForm(request.GET, schools=schools_of(request.user, self.permission_required))
        number = request.GET.get("page", "1")
        page = care_overview(request.user, today=timezone.localdate(), number=number, **form.chosen())
        form.offer(page.kinds)
        template = "repairs/care.html#list" if request.htmx else "repairs/care.html"
        return render(request, template, {"form": form, "page": page})


def kind_or_404(code: str) -> Kind:
    kind = catalog().kinds.get(code)
    if kind is None:
        raise Http404("no such kind")
    return kind


@dataclass(frozen=True, slots=True)
class ClassSet:
    """The instruments of a kind at a school that somebody may care for."""

    school: School
    kind: Kind
    rows: InstrumentQuerySet

    def day(self, *, now: datetime) -> CareDay:
        return care_day(self.rows, school=self.school, kind=self.kind, now=now)


class CareDayView(StaffView):
    """One kind at one school: every piece of care with the instruments it is due on, and what was done."""

    permission_required = "repairs.view_care"

    def class_set(self, request: StaffRequest, school: str, kind: str) -> ClassSet:
        place = row_or_404(schools_of(request.user, self.permission_required), code=school)
        known = kind_or_404(kind)
        rows = cared_for(request.user).filter(school=place, kind_code=known.code)
        return ClassSet(school=place, kind=known, rows=rows)

    def get(self, request: StaffRequest, school: str, kind: str) -> HttpResponse:
        return self.shown(request, self.class_set(request, school, kind))

    def shown(self, request: StaffRequest, chosen: ClassSet, **more: Any) -> HttpResponse:
        day = chosen.day(now=timezone.now())
        may_record = has_perm_at_school(request.user, "repairs.record_care", chosen.school.pk)
        is_whole = bool(more) or "all" in request.GET  # what was ticked is shown again, wherever it stands
        shown = ":" if is_whole else f":{SHOWN}"
        context = {"day": day, "may_record": may_record, "shown": shown, **more}
        return render(request, "repairs/care_day.html", context, status=422 if more else 200)


class CareDoneView(CareDayView):
    """Record a piece of care for the chosen instruments."""

    permission_required = "repairs.record_care"

    def get(self, request: StaffRequest, school: str, kind: str) -> HttpResponse:
        return redirect("repairs:care-day", school, kind)

    def post(self, request: StaffRequest, school: str, kind: str) -> HttpResponse:
        chosen = self.class_set(request, school, kind)
        form = CareDoneForm(request.POST, instruments=chosen.rows, today=timezone.localdate())
        if not form.is_valid():
            return self.shown(request, chosen, form=form, refused=form.sentence)
        try:
            done = record_care_of_many(**form.cleaned_data, actor=request.user, at=timezone.now())
        except RefusedError as error:
            return self.shown(request, chosen, form=form, refused=str(error))
        words = ngettext(
            "%(care)s: recorded for %(count)d instrument.", "%(care)s: recorded for %(count)d instruments.", len(done)
        )
        messages.success(request, words % {"care": done[0].name, "count": len(done)})
        return redirect("repairs:care-day", school, kind)


class WithdrawCareView(StaffView):
    """Undo what was recorded by mistake."""

    permission_required = "repairs.record_care"

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = CareDone.objects.visible_to(request.user, self.permission_required)
        care = row_or_404(rows.select_related("instrument__school"), pk=pk)
        withdraw_care(care=care, actor=request.user, at=timezone.now())
        words = gettext("Undone: %(care)s, %(instrument)s.")
        messages.success(request, words % {"care": care.name, "instrument": care.instrument})
        return redirect("repairs:care-day", care.instrument.school.code, care.instrument.kind_code)


class CareDayPdfView(CareDayView):
    def get(self, request: StaffRequest, school: str, kind: str) -> HttpResponse:
        day = self.class_set(request, school, kind).day(now=timezone.now())
        return pdf_response(
            request,
            lambda: care_day_pdf(day),
            name=f"care-day-{school}-{kind}.pdf",
            failed=gettext("The sheet could not be made. It is all on this page. Please contact support."),
            back=redirect("repairs:care-day", school, kind),
        )


@method_decorator(login_not_required, name="dispatch")
class CareCardView(View):
    """The card a student takes home: what to do daily and weekly, and what never to do. Public; it names nobody."""

    def get(self, request: HttpRequest, kind: str) -> HttpResponse:
        known = lost_kind(kind) or kind_or_404(kind)
        return file_response(_card(known.code, get_language()), name=f"care-{known.code.replace('_', '-')}.pdf")


@lru_cache(maxsize=64)
def _card(kind: str, language: str) -> bytes:
    """Laid out once a process for a language: the page is open to anybody, and the card never changes while it runs."""
    return care_card_pdf(catalog().kind(kind))
