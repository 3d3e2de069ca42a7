"""Lost and stolen instruments: reported, searched for, found or given up; the file for a claim."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import FormView, StaffRequest, StaffView, row_or_404
from desk.pages.losses import case_line, claim_page, next_words
from desk.pdf import claim_pdf
from desk.selectors.losses import ENDED_SHOWN, claim_file, loss_charge, open_cases, why_not_charged
from desk.services.losses import charge_for_loss, end_loss_case
from inventory.access import has_perm_at_school
from inventory.catalog.load import catalog
from loans.forms.losses import ChargeLossForm, EndLossForm, LossForm, ReportLossForm
from loans.models import Loan, Loss
from loans.selectors.losses import charge_for_loss_of, last_charge_for_loss, next_step, taken_off_since
from loans.services.losses import change_loss, days_of_search, report_loss

VIEW, CHANGE = "loans.view_loss", "loans.change_loss"


class LossesView(StaffView):
    """The open cases with what comes next, and the last that ended."""

    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponse:
        today = timezone.localdate()
        ended = Loss.objects.visible_to(request.user).exclude(ended_at=None).for_table().order_by("-ended_at", "-pk")
        context = {
            "lines": [case_line(case, today=today) for case in open_cases(request.user, today=today)],
            "ended": list(ended[:ENDED_SHOWN]),
        }
        return render(request, "desk/losses.html", context)


class LossView(FormView):
    """The case of a loan: reported here, then what was done when and under which numbers."""

    permission_required = VIEW
    template_name = "desk/loss.html"
    row_name = "loan"

    def row(self, **lookup: Any) -> Loan:
        permission = VIEW if self.request.method in {"GET", "HEAD"} else CHANGE
        return row_or_404(Loan.objects.visible_to(self.request.user, permission).for_table(), pk=lookup["pk"])

    def loss(self, row: Loan) -> Loss | None:
        """Return the open case, or the last one of a loan that is over."""
        losses = Loss.objects.filter(loan=row).order_by("-pk")
        latest: Loss | None = losses.first()
        return None if latest is not None and latest.is_over and row.is_open else latest

    def form(self, row: Loan, data: Any = None) -> ReportLossForm | LossForm:
        loss = self.loss(row)
        if loss is None:
            return ReportLossForm(data, initial={"noticed_on": timezone.localdate()})
        loss.loan = row
        return LossForm(data, loss=loss)

    def save(self, row: Loan, form: ReportLossForm | LossForm) -> str:
        if isinstance(form, ReportLossForm):
            data = form.cleaned_data
            report_loss(loan=row, **data, **self.actor_and_time())
            return self.done(gettext("The case is open. The instrument is recorded as not found."), "desk:loss", row.pk)
        change_loss(loss=form.loss, steps=form.steps, typed=form.typed, **self.actor_and_time())
        return self.done(gettext("Saved."), "desk:loss", row.pk)

    def context(self, row: Loan, form: ReportLossForm | LossForm) -> dict[str, Any]:
        may = partial(has_perm_at_school, self.request.user, school_id=row.school_id)
        is_searched = isinstance(form, LossForm) and not form.loss.is_over
        charge = charge_for_loss_of(row) if is_searched else last_charge_for_loss(row)
        context = {
            "instrument": row.instrument,
            "may_change": may(CHANGE),
            "may_name": may("loans.view_student_name"),
            "may_account": may("loans.view_ledger"),
            "charge": charge,
            "taken_off": taken_off_since(charge) if charge else None,
        }
        if isinstance(form, ReportLossForm):
            return context | {"days": days_of_search()}
        loss, today = form.loss, timezone.localdate()
        coming = next_step(loss, is_charged=charge is not None, today=today)
        return context | {
            "loss": loss,
            "may_charge": charge is None and not loss.is_over and may("loans.change_ledger"),
            "next": "" if loss.outcome else next_words(coming),
            "by": coming.by if coming.step else None,
            "is_late": coming.step is not None and coming.by < today,
        }


class EndLossView(FormView):
    """Say how it ended: the student has it, it is here, or it was given up."""

    permission_required = CHANGE
    template_name = "desk/end_loss.html"
    row_name = "loss"

    def row(self, **lookup: Any) -> Loss:
        rows = Loss.objects.visible_to(self.request.user, CHANGE).for_table()
        return row_or_404(rows.exclude(outcome__in=(Loss.Outcome.FOUND, Loss.Outcome.WITH_STUDENT)), pk=lookup["pk"])

    def form(self, row: Loss, data: Any = None) -> EndLossForm:
        return EndLossForm(data, loss=row)

    def save(self, row: Loss, form: EndLossForm) -> str:
        end_loss_case(loss=row, **form.cleaned_data, **self.actor_and_time())
        back = "desk:loss" if form.cleaned_data["outcome"] == Loss.Outcome.GIVEN_UP else "loans:loan"
        return self.done(gettext("The case has ended."), back, row.loan_id)

    def context(self, row: Loss, form: EndLossForm) -> dict[str, Any]:
        days = int(catalog().settings["loss_full_refund_days"])
        return {
            "loan": row.loan,
            "instrument": row.loan.instrument,
            "charge": charge_for_loss_of(row.loan),
            "days": days,
        }


class ChargeLossView(FormView):
    """Charge the family, at most what it was worth, with the arithmetic beside it."""

    permission_required = "loans.change_ledger"
    template_name = "desk/charge_loss.html"
    row_name = "loss"

    def row(self, **lookup: Any) -> Loss:
        rows = Loss.objects.visible_to(self.request.user, self.permission_required).for_table()
        return row_or_404(rows.select_related("loan__hand_out"), pk=lookup["pk"])

    def form(self, row: Loss, data: Any = None) -> ChargeLossForm:
        return ChargeLossForm(data, initial={"amount": loss_charge(row).most} if data is None else None)

    def save(self, row: Loss, form: ChargeLossForm) -> str:
        charge_for_loss(loss=row, **form.cleaned_data, **self.actor_and_time())
        return self.done(gettext("The family is charged."), "desk:loss", row.loan_id)

    def context(self, row: Loss, form: ChargeLossForm) -> dict[str, Any]:
        waits = why_not_charged(row, today=timezone.localdate())
        return {"loan": row.loan, "instrument": row.loan.instrument, "charge": loss_charge(row), "waits": waits}


class ClaimFileView(StaffView):
    """What an insurer or the police ask for, as PDF: the instrument, its value and dates, and nobody's name."""

    permission_required = VIEW

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = Loss.objects.visible_to(request.user, VIEW).for_table()
        loss = row_or_404(rows.select_related("loan__hand_out"), pk=pk)
        return self.export_pdf(
            lambda: claim_pdf(claim_page(claim_file(loss))),
            what="claim file",
            schools=[loss.loan.school_id],
            name=f"claim-{loss.loan.instrument.asset_number}.pdf",
            failed=gettext("The PDF could not be made. Please contact support."),
            back=redirect("desk:loss", loss.loan_id),
        )
