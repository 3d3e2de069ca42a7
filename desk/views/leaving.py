"""Out of the fleet: how an instrument left, what left, and what is back."""

from __future__ import annotations

from datetime import date
from functools import partial
from pathlib import PurePath
from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.models import User
from core.responses import file_response
from core.tables import FILE_FORMS
from core.views import (
    FormView,
    StaffRequest,
    StaffView,
    confirm_approver,
    row_or_404,
)
from desk.forms.leaving import BringBackForm, ChangeDisposalForm, LeaveForm, OutForm, PaperForm, WithdrawPaperForm
from desk.pages.leaving import OUT_HEADER, OUT_ON_PAPER, disposal_facts, hold_lines, out_rows
from desk.pages.losses import report_page
from desk.pdf import claim_pdf
from desk.selectors.leaving import disposals_for, given_up, retirement_of, value_now
from desk.selectors.losses import claim_file
from desk.services.leaving import dispose
from inventory.access import has_perm_at_school
from inventory.models import Disposal, Donation, Instrument, InstrumentPaper, schools_of
from inventory.rules.gifts import watched_until
from inventory.rules.leaving import DISPOSE, WRITTEN_OFF
from inventory.selectors.leaving import disposal_of, federal_terms
from inventory.services.disposing import bring_back, correct_disposal, keep_paper, withdraw_paper
from inventory.views.rows import InstrumentFormView
from loans.models import Loss

VIEW, MONEY, PAPERS = "inventory.view_instrument", "desk.view_value", "inventory.view_paper"
PER_PAGE = 50


def may_see_loss(user: User, loss: Loss) -> bool:
    return has_perm_at_school(user, "loans.view_loss", loss.loan.school_id)


class LeaveView(InstrumentFormView):
    """Record how it left: once everything about it is settled, and somebody approves."""

    uploads = 1
    permission_required = DISPOSE
    template_name = "desk/leave.html"

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponseBase:
        gone = disposal_of(self.row(**lookup))
        return redirect("desk:disposal", gone.pk) if gone is not None else super().get(request, **lookup)

    def form(self, row: Instrument, data: Any = None) -> LeaveForm:
        today, loss = timezone.localdate(), given_up(row)
        decided = self.decided = retirement_of(row)
        initial: dict[str, Any] = {"on": today, "market_amount": None}
        if decided is not None:
            initial |= {"because": decided.because, "approved_by": decided.settled_by_id}
        if loss is not None:
            initial["way"] = loss.sort
        if loss is not None and may_see_loss(self.request.user, loss):
            initial["because"] = loss.circumstances
            initial |= {
                name: getattr(loss, name) for name in ("police_agency", "police_number", "insurer", "claim_number")
            }
        return LeaveForm(
            data,
            None if data is None else self.request.FILES,
            instrument=row,
            value=value_now(row, today=today),
            terms=federal_terms(row),
            asker=self.request.user,
            initial=initial,
        )

    def save(self, row: Instrument, form: LeaveForm) -> str:
        if form.asks_password:
            confirm_approver(self.request, form, form.cleaned_data["approved_by"])
        disposal = dispose(instrument=row, **form.columns(), **self.actor_and_time())
        words = gettext("%(number)s is out of the fleet.") % {"number": row.asset_number}
        return self.done(words, "desk:disposal", disposal.pk)

    def watched_until(self, row: Instrument) -> date | None:
        """Return until when giving away a gift has to be reported; None where it has not."""
        gift = Donation.objects.filter(instrument=row).first()
        until = watched_until(received_on=gift.received_on, signed_on=gift.tax_form_signed_on) if gift else None
        return until if until is not None and timezone.localdate() <= until else None

    def context(self, row: Instrument, form: LeaveForm) -> dict[str, Any]:
        return {
            "holds": hold_lines(row, may=partial(has_perm_at_school, self.request.user, school_id=row.school_id)),
            "decided": self.decided,
            "value": form.value,
            "terms": federal_terms(row),
            "watched_until": self.watched_until(row),
            "may_transfer": has_perm_at_school(self.request.user, "inventory.transfer_instrument", row.school_id),
        }


class OutView(StaffView):
    """What is out of the fleet, with its history."""

    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponse:
        form = OutForm(request.GET or None, schools=list(schools_of(request.user)))
        rows = disposals_for(request.user, **form.narrowed())
        page: Any = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
        page.object_list = page.object_list.keys_first().for_table()
        context = {
            "form": form,
            "page": page,
            "query": request.GET.urlencode(),
            "may_see_money": request.user.has_perm(MONEY),
        }
        return render(request, "desk/out.html", context)


class OutExportView(StaffView):
    """The same as a file. Nobody's name but those of the staff who approved and recorded it."""

    permission_required = MONEY

    def get(self, request: StaffRequest, form: str) -> HttpResponseBase:
        if form not in FILE_FORMS:
            raise Http404("no such form")
        schools = list(schools_of(request.user, MONEY))
        narrowed = OutForm(request.GET or None, schools=schools).narrowed()
        keys = [school.pk for school in schools if narrowed.get("school") in {None, school.pk}]
        rows = disposals_for(request.user, permission=MONEY, **narrowed)
        name = f"out-of-the-fleet-{timezone.localdate()}.{form}"
        return self.list_file(
            name=name, what="out of the fleet", title=gettext("Out of the fleet"), header=OUT_HEADER, rows=out_rows(rows), count=rows.count(),
            schools=keys, back="desk:out", on_paper=OUT_ON_PAPER,
        )  # fmt: skip


class DisposalView(StaffView):
    """How one left, its papers, and what can still be done about it."""

    permission_required = VIEW

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = Disposal.objects.visible_to(request.user, VIEW).for_table().select_related("ended_by")
        disposal = row_or_404(rows, pk=pk)
        may = partial(has_perm_at_school, request.user, school_id=disposal.instrument.school_id)
        loss = given_up(disposal.instrument)
        context = {
            "disposal": disposal,
            "instrument": disposal.instrument,
            "facts": disposal_facts(disposal, may_see_money=may(MONEY), may_see_papers=may(PAPERS)),
            "papers": list(disposal.papers.select_related("actor", "withdrawn_by")) if may(PAPERS) else [],
            "may_change": may(DISPOSE) and disposal.ended_at is None,
            "has_report": disposal.way in WRITTEN_OFF and may(PAPERS),
            "may_see_loss": loss is not None and may_see_loss(request.user, loss),
            "loss": loss,
        }
        return render(request, "desk/disposal.html", context)


class DisposalFormView(FormView, is_base=True):
    """A form about something that is gone, at a school where the user may record that."""

    row_name = "disposal"
    template_name = "desk/disposal_form.html"
    title: str | Promise = ""
    button: str | Promise = ""

    def row(self, **lookup: Any) -> Disposal:
        rows = Disposal.objects.visible_to(self.request.user, DISPOSE).standing().for_table()
        return row_or_404(rows, **lookup)

    def context(self, row: Disposal, form: Any) -> dict[str, Any]:
        return {"instrument": row.instrument, "title": str(self.title), "button": str(self.button)}


class ChangeDisposalView(DisposalFormView):
    """Add new information: who has it, what was paid, what an investigation found."""

    permission_required = DISPOSE
    title, button = _("New information"), _("Save")

    def form(self, row: Disposal, data: Any = None) -> ChangeDisposalForm:
        return ChangeDisposalForm(data, disposal=row, asker=self.request.user)

    def save(self, row: Disposal, form: ChangeDisposalForm) -> str:
        if form.asks_password:
            confirm_approver(self.request, form, form.cleaned_data["approved_by"])
        correct_disposal(disposal=row, **form.columns(), **self.actor_and_time())
        return self.done(gettext("Saved."), "desk:disposal", row.pk)


class BringBackView(DisposalFormView):
    """It is back, or it never left."""

    permission_required = DISPOSE
    title, button = _("Back in the fleet"), _("It is back")
    form_class = BringBackForm

    def form(self, row: Disposal, data: Any = None) -> BringBackForm:
        return BringBackForm(data, initial={"back_on": timezone.localdate()}, is_error=row.way == Disposal.Ways.ERROR)

    def save(self, row: Disposal, form: BringBackForm) -> str:
        data = form.cleaned_data
        bring_back(
            disposal=row, because=data["because"], was_wrong=data.get("how", "wrong") == "wrong",
            back_on=data.get("back_on"), nonce=data["nonce"], **self.actor_and_time(),
        )  # fmt: skip
        words = gettext("%(number)s is back in storage. Its tags were revoked: issue a new one, and inspect it.")
        if row.way in WRITTEN_OFF:  # its tags were left on it
            words = gettext("%(number)s is back in storage. Inspect it.")
        return self.done(
            words % {"number": row.instrument.asset_number}, "desk:instrument", row.instrument.asset_number
        )


class AddPaperView(DisposalFormView):
    """Keep a bill of sale, a receipt, a police report."""

    uploads = 1
    permission_required = DISPOSE
    title, button = _("Add a paper"), _("Keep it")
    form_class = PaperForm

    def save(self, row: Disposal, form: PaperForm) -> str:
        keep_paper(instrument=row.instrument, disposal=row, **form.cleaned_data, **self.actor_and_time())
        return self.done(gettext("The paper is kept."), "desk:disposal", row.pk)

    def context(self, row: Disposal, form: Any) -> dict[str, Any]:
        return super().context(row, form) | {"multipart": True}


class WithdrawPaperView(FormView):
    """A paper was filed by mistake: say why; it is no longer opened."""

    permission_required = DISPOSE
    template_name = "desk/disposal_form.html"
    row_name = "paper"
    form_class = WithdrawPaperForm

    def row(self, **lookup: Any) -> InstrumentPaper:
        rows = InstrumentPaper.objects.standing().visible_to(self.request.user, DISPOSE).exclude(disposal=None)
        return row_or_404(rows.select_related("instrument__school", "disposal"), **lookup)

    def save(self, row: InstrumentPaper, form: WithdrawPaperForm) -> str:
        withdraw_paper(paper=row, **form.cleaned_data, **self.actor_and_time())
        return self.done(gettext("The paper is withdrawn."), "desk:disposal", row.disposal_id)

    def context(self, row: InstrumentPaper, form: Any) -> dict[str, Any]:
        title = gettext("Withdraw “%(title)s”") % {"title": row.title}
        return {
            "disposal": row.disposal,
            "instrument": row.instrument,
            "title": title,
            "button": gettext("Withdraw it"),
        }


class LossReportView(StaffView):
    """The report of a loss or theft as PDF: what the investigation found, with the family's claim for who may see it."""

    permission_required = PAPERS

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = Disposal.objects.visible_to(request.user, PAPERS).for_table().filter(way__in=WRITTEN_OFF)
        disposal = row_or_404(rows, pk=pk)
        loss = given_up(disposal.instrument)
        file = claim_file(loss) if loss is not None and may_see_loss(request.user, loss) else None
        return self.export_pdf(
            lambda: claim_pdf(report_page(disposal, file)),
            what="loss report",
            schools=[disposal.instrument.school_id],
            name=f"loss-{disposal.instrument.asset_number}.pdf",
            failed=gettext("The PDF could not be made. Please contact support."),
            back=redirect("desk:disposal", disposal.pk),
        )


class PaperFileView(StaffView):
    """The scan itself, such as a police report; opening it is logged."""

    permission_required = PAPERS

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = InstrumentPaper.objects.standing().visible_to(request.user, PAPERS).select_related("instrument")
        paper = row_or_404(rows, pk=pk)
        try:
            with paper.file.open("rb") as file:
                content = file.read()
        except FileNotFoundError:
            raise Http404("the paper is not in the store") from None
        name = PurePath(str(paper.file.name))
        answer = file_response(content, name=f"paper-{pk}{name.suffix}")
        answer["Cache-Control"] = "private, no-cache"
        self.note_export("instrument paper", form=name.suffix[1:], rows=1, schools=[paper.instrument.school_id])
        return answer
