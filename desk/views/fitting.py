"""Who could take this instrument, and which instruments suit this student."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from core.views import StaffRequest, StaffView, row_or_404
from desk.pages.fitting import suits_page, who_page
from desk.selectors.fitting import kind_for, loans_by_student, play_test_limits, ready_instruments, students_by_level
from inventory.models import Whereabouts
from inventory.selectors.standing import standing_of, standings_of
from inventory.selectors.state import may_go_out
from inventory.views.rows import instrument_for
from loans.models import Student

LEND = "loans.lend_instrument"


class FitView(StaffView):
    permission_required = LEND

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, LEND)
        is_in_store = instrument.whereabouts == Whereabouts.IN_STORE
        page = who_page(
            instrument,
            standing=standing_of(instrument),
            by_level=students_by_level(instrument.school),
            on_loan=loans_by_student(instrument.school),
            play_limits=play_test_limits(instrument),
            may_go=is_in_store and may_go_out(instrument, today=timezone.localdate()),
            whole=request.GET.get("level", ""),
        )
        return render(request, "desk/fit.html", {"page": page, "instrument": instrument})


class SuitsView(StaffView):
    permission_required = LEND

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = Student.objects.visible_to(request.user, LEND).current().select_related("school")
        student = row_or_404(rows, pk=pk)
        ready = ready_instruments(student.school, today=timezone.localdate())
        kind = kind_for(student, wanted=request.GET.get("kind", ""))
        standings = standings_of([row for row in ready if row.kind_code == kind])
        page = suits_page(student, ready=ready, kind=kind, standings=standings)
        return render(request, "desk/suits.html", {"page": page, "student": student})
