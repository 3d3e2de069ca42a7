"""Legal holds, for administrators: the record is called by its number, and nobody is named."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from core.views import FormView, StaffRequest, StaffView, row_or_404
from loans.forms.holds import HoldForm
from loans.models import LegalHold, Student
from loans.services import lift_hold, set_hold
from loans.views.students import student_of

CHANGE = "loans.change_hold"


class HoldsView(FormView):
    permission_required = CHANGE
    template_name = "loans/holds.html"
    row_name = "student"

    def row(self, **lookup: Any) -> Student:
        return student_of(self.request, lookup["pk"], CHANGE)

    def form(self, row: Student, data: Any = None) -> HoldForm:
        return HoldForm(data)

    def context(self, row: Student, form: HoldForm) -> dict[str, Any]:
        holds = list(LegalHold.objects.filter(student=row).select_related("actor", "lifted_by"))
        return {"holds": holds, "today": timezone.localdate(), "loans": row.loans.count()}

    def save(self, row: Student, form: HoldForm) -> str:
        set_hold(student=row, **self.actor_and_time(), **form.cleaned_data)
        return self.done(_("The hold is in force."), "loans:holds", row.pk)


class LiftHoldView(StaffView):
    permission_required = CHANGE
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        hold = row_or_404(LegalHold.objects.visible_to(request.user), pk=pk)
        lift_hold(hold=hold, actor=request.user, at=timezone.now())
        messages.success(request, _("The hold is lifted."))
        return redirect("loans:holds", hold.student_id)
