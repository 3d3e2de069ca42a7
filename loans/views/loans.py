"""The list of loans, one loan, its agreement."""

from __future__ import annotations

import logging
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import PurePath
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from core.models import User
from core.pdf import PdfError
from core.responses import file_response
from core.tables import show_page
from core.views import RememberedView, SearchedView, StaffRequest, StaffView, acts_allowed, list_filter, row_or_404
from inventory.access import has_perm_at_school
from inventory.models import schools_of
from loans.forms import LoanFilterForm
from loans.forms.signing import MOST_LINKS
from loans.models import Addendum, Agreement, Loan, LoanQuerySet
from loans.pages.comparing import accessories_compared, comparison_of
from loans.pages.notices import notice_lines
from loans.pages.signing_links import link_words
from loans.pdf import content_of
from loans.selectors.agreements import has_all_facts
from loans.selectors.comparing import compare_inspections, findings_in_words, handed_out_with
from loans.selectors.ledger import owed_by
from loans.selectors.lending import schools_with_names, went_on_as
from loans.selectors.limits import limits_to_read
from loans.selectors.papers import waiting_papers
from loans.selectors.seats import periods_of
from loans.selectors.signing_links import ToSend, link_of_each, links_to_send
from loans.tables import LoanTable
from loans.tasks import print_agreement

logger = logging.getLogger(__name__)

PER_PAGE = 50
LOOKS_FOR_PAPER = timedelta(minutes=2)  # how long an open page waits for the paper
DOORS = (
    (gettext_lazy("Hand-out day"), reverse_lazy("desk:hand-out"), "loans.lend_instrument"),
    (gettext_lazy("Give-back"), reverse_lazy("desk:give-back"), "desk.take_back"),
    (gettext_lazy("Students"), reverse_lazy("loans:students"), "loans.view_student"),
    (gettext_lazy("Who plays what"), reverse_lazy("loans:ensembles"), "loans.view_need"),
    (gettext_lazy("Due dates"), reverse_lazy("loans:due-dates"), "loans.lend_instrument"),
    (gettext_lazy("Signed papers"), reverse_lazy("desk:papers-in"), "loans.lend_instrument"),
    (gettext_lazy("Notices"), reverse_lazy("loans:notices"), "loans.send_notice"),
    (gettext_lazy("Accounts"), reverse_lazy("loans:balances"), "loans.view_ledger"),
    (gettext_lazy("Lost and stolen"), reverse_lazy("desk:losses"), "loans.view_loss"),
    (gettext_lazy("Terms"), reverse_lazy("loans:terms"), "loans.view_terms"),
)


# What may be done with the rows selected in the list.
PICKED = (
    (gettext_lazy("Due date"), reverse_lazy("desk:picked-due"), "loans.lend_instrument"),
    (gettext_lazy("Letters"), reverse_lazy("loans:notices"), "loans.send_notice"),
    (gettext_lazy("Print labels"), reverse_lazy("inventory:labels"), "inventory.print_labels"),
)
BY_MAIL = ((gettext_lazy("Links to sign"), reverse_lazy("desk:picked-links"), "loans.lend_instrument"),)


class LoanListView(RememberedView, SearchedView):
    """Open, overdue or returned loans; htmx gets the table alone."""

    permission_required = "loans.view_loan"
    list_name = "loans"

    def get(self, request: StaffRequest) -> HttpResponse:
        if back := self.to_kept_list():
            return back
        today = timezone.localdate()
        named = schools_with_names(request.user)
        schools = schools_of(request.user, "loans.view_loan")
        now = timezone.now()
        form = loan_filter(request.user, self.query())
        rows = Loan.objects.visible_to(request.user).for_table()
        rows = form.narrow(rows, today=today, now=now, named_schools=named)
        keys = frozenset(schools.values_list("pk", flat=True))
        table = LoanTable(rows, today=today, named_schools=named, exclude=("school",) if len(keys) < 2 else ())
        if form.is_to_sign or form.chosen_state() in {"open", "overdue"}:
            table.exclude = (*table.exclude, "returned_at")
        if not form.is_to_sign:
            table.exclude = (*table.exclude, "link")
        picked = acts_allowed(request.user, (*PICKED, *(BY_MAIL if settings.MAIL_IS_SET else ())))
        if not picked:
            table.exclude = (*table.exclude, "pick")
        if not keys <= named:
            table.hide_names()
        self.remember(form, table)
        show_page(table, request, per_page=PER_PAGE, files=())
        if form.is_to_sign:
            links = link_of_each([row.record.pk for row in table.paginated_rows], at=now)
            table.links = {loan: link_words(*one) for loan, one in links.items()}
        template = "loans/loan_list.html" + ("#list" if request.htmx else "")
        context = {
            "table": table,
            "form": form,
            "filters": list_filter(request.GET),
            "links": self.to_send(rows, now=now) if form.is_to_sign else None,
            "most_links": MOST_LINKS,
            "may_lend": request.user.has_perm("loans.lend_instrument"),
            "doors": acts_allowed(request.user, DOORS),
            "picked_acts": picked,
        }
        return render(request, template, context)

    def to_send(self, rows: LoanQuerySet, *, now: datetime) -> ToSend | None:
        """Return which links may be sent for all that is shown; None where that is nothing, or too much at once."""
        rows = rows.visible_to(self.request.user, "loans.lend_instrument")
        return links_to_send(rows, at=now) if 0 < rows.count() <= MOST_LINKS else None


def loan_filter(user: User, query: QueryDict | None) -> LoanFilterForm:
    """Return the filter of the list of loans, as it is asked for."""
    return LoanFilterForm(
        query or {"state": "open"}, schools=schools_of(user, "loans.view_loan"), periods=periods_of(user)
    )


class LoanView(StaffView):
    """One loan: who, what, how it went out and how it came back."""

    permission_required = "loans.view_loan"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = Loan.objects.visible_to(request.user).for_table()
        rows = rows.select_related(
            "hand_out", "taken_back", "actor", "returned_to", "undone_by", "agreement__terms", "in_place_of__instrument"
        )
        loan = row_or_404(rows, pk=pk)
        instrument, today = loan.instrument, timezone.localdate()
        may = partial(has_perm_at_school, request.user, school_id=loan.school_id)
        owed = owed_by(loan.student) if may("loans.view_ledger") else None
        may_now = partial(has_perm_at_school, request.user, school_id=instrument.school_id)  # where it is now
        context = {
            "loan": loan,
            "instrument": instrument,
            "swapped_for": loan.swapped_for.not_undone().select_related("instrument").first(),
            "over": f"{instrument.asset_number} · {loan.school}",
            "kind": instrument.kind,
            **_paper(getattr(loan, "agreement", None), now=timezone.now()),
            "addenda": Addendum.objects.visible_to(request.user, "loans.view_loan").filter(agreement__loan=loan),
            "accessories": accessories_compared(loan),
            "limits": limits_to_read(loan.limits),
            "findings": () if loan.taken_back else findings_in_words(instrument.kind, handed_out_with(loan)),
            "comparison": comparison_of(
                instrument.kind,
                compare_inspections(loan=loan, taken_back=loan.taken_back),
            )
            if loan.taken_back
            else None,
            "went_on_as": went_on_as(loan),
            "notices": notice_lines(loan.notices.all()),
            "days_late": max(0, (today - loan.due_on).days) if loan.is_open else 0,
            "may_hold": may("loans.change_hold") and loan.student.erased_at is None,
            "may_see_hashes": may("loans.view_hashes"),
            "may_name": may("loans.view_student_name"),
            "may_contact": may("loans.view_student"),
            "owed": owed,
            "credit": None if owed is None else -owed,
            "may_compare": loan.taken_back is not None and loan.returned_at is not None and may("loans.view_ledger"),
            "may_take_back": loan.is_open and may("loans.return_instrument"),
            "may_see_loss": loan.undone_at is None and (loan.is_open or loan.is_lost) and may("loans.view_loss"),
            "may_change": loan.is_open and may("loans.lend_instrument"),
            "may_make_paper": may("loans.lend_instrument"),
            "next_act": next_act(loan, today=today) if may("loans.lend_instrument") else "",
            "may_see": may_now("inventory.view_instrument"),
            "is_to_inspect": instrument.is_return_inspection_due and rows.to_inspect().filter(pk=pk).exists(),
            "may_inspect": may_now("inventory.inspect_instrument"),
            "may_clean": instrument.is_hygiene_due and may_now("inventory.clean_instrument"),
        }
        # While the paper is being made, the page asks for this part of itself.
        return render(request, "loans/loan_agreement.html" if request.htmx else "loans/loan.html", context)


def _paper(agreement: Agreement | None, *, now: datetime) -> dict[str, Any]:
    """Return the agreement, the day as of which its paper speaks, and of one still to be made, when the worker does."""
    if agreement is None:
        return {"agreement": None}
    if agreement.pdf_sha256:
        known_on = parse_date(agreement.facts.get("known_on", ""))
        return {"agreement": agreement, "known_on": known_on}
    waits = waiting_papers(agreement).get(agreement.pk)
    is_soon = waits is not None and not waits.failures and abs(now - waits.queued_at) < LOOKS_FOR_PAPER
    known_on = None if has_all_facts(agreement) else timezone.localdate(now)
    return {"agreement": agreement, "paper": waits, "is_paper_soon": is_soon, "known_on": known_on}


def next_act(loan: Loan, *, today: date) -> str:
    """Return what to offer next with a line at the door: the same act again. "" for a loan of another day."""
    if loan.is_lost:
        return ""
    if loan.undone_at is not None:
        return "lend"
    if loan.returned_at is not None:
        return "take-back" if timezone.localdate(loan.returned_at) == today else ""
    return "lend" if loan.lent_on == today else ""


class AgreementView(StaffView):
    """The signed paper as stored PDF; opening it is logged."""

    permission_required = "loans.view_agreement"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        agreement = row_or_404(visible_agreements(request), loan_id=pk)
        if not agreement.pdf_sha256:
            messages.info(request, _("The PDF of this agreement has not been made yet. You can make it here."))
            return redirect("loans:loan", pk)
        if not agreement.pdf:
            raise Http404("the paper was deleted after its retention period; its hash stays")
        answer = file_response(content_of(agreement.pdf), name=f"loan-{pk}.pdf")
        self.note_export("agreement", form="pdf", rows=1, schools=[agreement.loan.school_id])
        return answer


class AddendumView(StaffView):
    """The addendum to a signed agreement as stored PDF."""

    permission_required = "loans.view_agreement"

    def get(self, request: StaffRequest, pk: int, addendum: int) -> HttpResponse:
        rows = Addendum.objects.visible_to(request.user, self.permission_required).exclude(pdf="")
        row = row_or_404(rows.select_related("agreement__loan"), pk=addendum, agreement__loan=pk)
        answer = file_response(content_of(row.pdf), name=f"loan-{pk}-addendum.pdf")
        self.note_export("addendum", form="pdf", rows=1, schools=[row.agreement.loan.school_id])
        return answer


class MakeAgreementView(StaffView):
    """Make the PDF now, without waiting for the worker."""

    permission_required = "loans.lend_instrument"
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        agreement = row_or_404(visible_agreements(request, self.permission_required), loan_id=pk)
        try:
            print_agreement(agreement=agreement, actor=request.user, at=timezone.now())
        except (PdfError, OSError):
            logger.exception("the paper of loan %s could not be made", pk)
            messages.error(
                request, _("The PDF could not be made yet. The signatures are saved, and it will be tried again.")
            )
        else:
            messages.success(request, _("The PDF was made and saved."))
        return redirect("loans:loan", pk)


class ScanView(StaffView):
    """What was signed, as a download: the scan of a paper, whose content was never checked, or the text of a link."""

    permission_required = "loans.view_agreement"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        agreement = row_or_404(visible_agreements(request).exclude(scan=""), loan_id=pk)
        suffix = PurePath(str(agreement.scan.name)).suffix
        answer = file_response(content_of(agreement.scan), name=f"signed-paper-{pk}{suffix}", is_download=True)
        self.note_export("signed paper", form=suffix[1:], rows=1, schools=[agreement.loan.school_id])
        return answer


def visible_agreements(request: StaffRequest, permission: str = "loans.view_agreement") -> QuerySet[Agreement]:
    return Agreement.objects.visible_to(request.user, permission).for_paper()
