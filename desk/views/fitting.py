"""Who could take this horn, and which horns suit this student."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from core.views import StaffRequest, StaffView, row_or_404
from desk.selectors.fitting import suits_page, who_page
from inventory.views.rows import instrument_for
from loans.models import Student

LEND = "loans.lend_instrument"


class FitView(StaffView):
    """Whom does this horn not hurt?"""

    permission_required = LEND

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, LEND)
        page = who_page(instrument, today=timezone.localdate())
        return render(request, "desk/fit.html", {"page": page, "instrument": instrument})


class SuitsView(StaffView):
    """Which horns suit this student?"""

    permission_required = LEND

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = Student.objects.visible_to(request.user, LEND).current().select_related("school")
        student = row_or_404(rows, pk=pk)
        page = suits_page(student, kind=request.GET.get("kind", ""), today=timezone.localdate())
        return render(request, "desk/suits.html", {"page": page, "student": student})
