"""Signing for what is out without a signed agreement."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext

from core.views import FormView, StaffRequest, row_or_404
from desk.services.signing import sign_lent
from loans.forms import SignForm
from loans.models import Loan, Student
from loans.rules.terms import ENGLISH
from loans.selectors.agreements import current_terms


def signing_for(student: Student) -> dict[str, str]:
    """Return what ``SigningFields`` begin with: the terms in the guardian's language, and the guardian's name."""
    guardian = student.guardian
    terms = current_terms(guardian.language if guardian else ENGLISH)
    return {"terms": terms.key, "guardian_signer": guardian.name if guardian else ""}


class SignView(FormView):
    """Sign on the screen, or attach the scan or photo of the signed paper."""

    uploads = 1
    permission_required = "loans.lend_instrument"
    template_name = "desk/sign.html"
    row_name = "loan"

    def row(self, **lookup: Any) -> Loan:
        rows = Loan.objects.visible_to(self.request.user, self.permission_required).for_table()
        return row_or_404(rows.select_related("agreement"), pk=lookup["pk"])

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        loan = self.row(**lookup)
        if hasattr(loan, "agreement") or loan.undone_at is not None:
            return redirect("loans:loan", loan.pk)
        return self.shown(loan, self.form(loan))

    def form(self, row: Loan, data: Any = None) -> SignForm:
        files = None if data is None else self.request.FILES
        initial = signing_for(row.student) if data is None else None
        return SignForm(data, files, borrower=row.student, initial=initial)

    def save(self, row: Loan, form: SignForm) -> str:
        sign_lent(loan=row, signing=form.signed_now(), **self.actor_and_time())
        return self.done(gettext("The agreement is signed and filed."), "loans:loan", row.pk)

    def context(self, row: Loan, form: SignForm) -> dict[str, Any]:
        return {"terms": form.terms_shown, "value": row.replacement_amount, "instrument": row.instrument}
