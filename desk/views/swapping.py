"""Swapping what a student has for a spare."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext

from desk.selectors.lending import spares_for
from desk.services.swapping import swap_at_desk
from desk.views.lending import TakeBackView, already_returned
from desk.views.signing import signing_for
from loans.exceptions import AlreadyReturnedError
from loans.forms.swapping import SwapForm
from loans.models import Loan


class SwapView(TakeBackView):
    """What the student has comes in, a spare goes out."""

    permission_required = "desk.lend"
    template_name = "desk/swap.html"

    def form(self, row: Loan | None, data: Any = None) -> forms.Form:
        if row is None:
            return super().form(row, data)
        today, facts = timezone.localdate(), self.facts(row, data)
        if data is None:
            facts["initial"] |= signing_for(row.student) | {"spare": self.scanned}
        return SwapForm(data, spares=spares_for(row, today=today), today=today, **facts)

    @property
    def scanned(self) -> str:
        """The number of the spare that was scanned for this page, or ""."""
        return self.request.GET.get("spare", "")

    def save(self, row: Loan | None, form: forms.Form) -> str:
        if not isinstance(form, SwapForm) or row is None:
            return already_returned(self.request, self.instrument)
        data = form.cleaned_data
        try:
            loan = swap_at_desk(
                loan=row,
                spare=form.spares[data["spare"]],
                due_on=data.get("due_on"),
                kept=data["keeps"],
                signing=form.signing(),
                limits_reason=data["limits_reason"],
                nonce=data["nonce"],
                **self.taking_back(row, form),
                **self.actor_and_time(),
            )
        except AlreadyReturnedError:
            return already_returned(self.request, self.instrument)
        words = gettext("%(spare)s is lent in place of %(number)s.")
        text = words % {"spare": data["spare"], "number": self.instrument.asset_number}
        return self.done(text, "loans:loan", loan.pk)

    def context(self, row: Loan, form: Any) -> dict[str, Any]:
        notices = self.instrument.problem_reports.unconfirmed()
        not_spare = "" if self.scanned in form.spares else self.scanned
        return super().context(row, form) | {"notices": notices, "terms": form.terms_shown, "not_spare": not_spare}
