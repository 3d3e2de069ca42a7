"""Lending and taking back."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import FormView, StaffRequest, StaffView, row_or_404
from desk.selectors.lending import draft_of, fits, going_out_with, others_ready, walk_since, walked_today
from desk.services.lending import (
    Signing,
    begin_hand_out_walk,
    begin_return_walk,
    lend_at_desk,
    take_back_at_desk,
)
from inventory.exceptions import RefusedError
from inventory.models import Instrument, Purpose, Whereabouts
from inventory.selectors.prices import replacement_amount
from inventory.selectors.state import may_go_out, reasons_today
from inventory.views.rows import instrument_for
from loans.exceptions import AlreadyReturnedError, InspectionMissingError
from loans.forms import LendForm, TakeBackForm
from loans.models import Loan, Student
from loans.pages import comparison_of, findings_in_words
from loans.selectors import compare_inspections, current_terms, open_loan_of
from repairs.models import Bench

SHOWN_READY = 40

LEND, TAKE_BACK = "loans.lend_instrument", "loans.return_instrument"


class LendStartView(StaffView):
    """Scan, type, or pick an instrument that may go out."""

    permission_required = "desk.lend"

    def get(self, request: StaffRequest) -> HttpResponse:
        ready = (
            Instrument.objects.visible_to(request.user, LEND)
            .filter(whereabouts=Whereabouts.IN_STORE)
            .ready(today=timezone.localdate())
            .for_table()
            .order_by("kind_code", "asset_number")
        )
        students = Student.objects.visible_to(request.user).current()
        wanted = request.GET.get("student", "")
        student = students.filter(pk=wanted).first() if wanted.isdecimal() else None
        if student is not None:
            ready = ready.filter(school=student.school)
        context = {"ready": ready[:SHOWN_READY], "total": ready.count(), "student": student}
        return render(request, "desk/lend_start.html", context)


class LendView(FormView):
    """Student, due date, accessories and signatures on one page."""

    permission_required = "desk.lend"
    template_name = "desk/lend.html"
    row_name = "instrument"

    def row(self, **lookup: Any) -> Instrument:
        return instrument_for(self.request, lookup["asset_number"], LEND)

    def form(self, row: Instrument, data: Any = None) -> LendForm:
        wanted = self.request.GET.get("student")
        initial = {"nonce": uuid.uuid4(), "terms": current_terms().version, "student": wanted} if data is None else None
        files = None if data is None else self.request.FILES
        return LendForm(data, files, instrument=row, today=timezone.localdate(), initial=initial)

    def save(self, row: Instrument, form: LendForm) -> str:
        data = form.cleaned_data
        loan = lend_at_desk(
            instrument=row,
            student=data["student"],
            new_student=form.new_student(),
            due_on=data["due_on"],
            accessories=form.counts(),
            limits_reason=data["limits_reason"],
            photos=data["photos"],
            signing=Signing(
                signed=data["signed"],
                terms=data["terms"],
                guardian_signer=data.get("guardian_signer", ""),
                scan=form.scan_content(),
                student_signature=data["signatures"].get("student_signature", b""),
                guardian_signature=data["signatures"].get("guardian_signature", b""),
            ),
            nonce=data["nonce"],
            **self.actor_and_time(),
        )
        text = gettext("%(number)s is lent. The agreement is signed and filed.")
        return self.done(text % {"number": row.asset_number}, "loans:loan", loan.pk)

    def context(self, row: Instrument, form: LendForm) -> dict[str, Any]:
        today = timezone.localdate()
        # Read again: a refusal may mean that somebody else was faster.
        fresh = row_or_404(Instrument.objects.visible_to(self.request.user).for_table(), pk=row.pk)
        last = fresh.inspections.finished().order_by("-finished_at", "-pk").first()
        walked, draft = walked_today(fresh, today=today), draft_of(fresh, purpose=Purpose.HAND_OUT)
        may_go = may_go_out(fresh, today=today) and fresh.whereabouts == Whereabouts.IN_STORE
        return {
            "instrument": fresh,
            "kind": fresh.kind,
            "terms": form.terms_shown,
            "may_go": may_go,
            "others": [] if may_go else others_ready(fresh, today=today),
            "reasons": reasons_today(fresh, today=today),
            "fits": fits(fresh),
            "last": last,
            "findings": findings_in_words(fresh.kind, going_out_with(fresh, draft=None if walked else draft)),
            "walked": walked,
            "draft": draft,
            "value": replacement_amount(fresh),
        }


class LendWalkView(StaffView):
    """Start the hand-out inspection, filled in from the last one."""

    permission_required = "desk.lend"

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, LEND)
        walk = begin_hand_out_walk(instrument=instrument, actor=request.user, at=timezone.now())
        return redirect("inventory:walk", walk.pk)


class TakeBackView(StaffView):
    """Compare how it came back with how it went out; then put it in storage or on the bench."""

    permission_required = "desk.take_back"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, TAKE_BACK)
        loan = open_loan_of(instrument)
        if loan is None:
            latest = instrument.loans.filter(returned_at__isnull=False).order_by("-returned_at").first()
            return render(request, "desk/take_back_not_out.html", {"instrument": instrument, "latest": latest})
        walked = walk_since(loan)
        form = TakeBackForm(
            loan=loan,
            benches=self.benches(instrument),
            counted=walked.accessory_counts if walked else None,
            initial={"found": "walked" if walked else None},
        )
        return self.page(instrument, loan, form)

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, TAKE_BACK)
        loan = open_loan_of(instrument)
        if loan is None:
            return self.already_returned(instrument)
        form = TakeBackForm(request.POST, loan=loan, benches=self.benches(instrument))
        if form.is_valid():
            try:
                closed = self.take_back(loan, form)
            except AlreadyReturnedError:
                return self.already_returned(instrument)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                is_on_bench = form.cleaned_data["to"] == "bench"
                text = (
                    gettext("%(number)s is on the bench.") if is_on_bench else gettext("%(number)s is back in storage.")
                )
                messages.success(request, text % {"number": instrument.asset_number})
                return redirect("loans:loan", closed.pk)
        return self.page(instrument, loan, form, status=422)

    def take_back(self, loan: Loan, form: TakeBackForm) -> Loan:
        data = form.cleaned_data
        to_bench = data["to"] == "bench"
        walked = walk_since(loan) if data["found"] == "walked" else None
        if data["found"] == "walked" and walked is None:
            raise InspectionMissingError(
                gettext("The return inspection is not finished. Finish it, or say it is the same.")
            )
        return take_back_at_desk(
            loan=loan,
            accessories_back=form.counts(),
            walked=walked,
            bench=Bench.objects.get(school=loan.instrument.school_id, pk=data["bench"]) if to_bench else None,
            because=data["because"],
            actor=self.request.user,
            at=timezone.now(),
        )

    def already_returned(self, instrument: Instrument) -> HttpResponse:
        text = gettext("%(number)s was already taken back. Nothing was changed.")
        messages.info(self.request, text % {"number": instrument.asset_number})
        return redirect("desk:instrument", instrument.asset_number)

    def benches(self, instrument: Instrument) -> list[tuple[str, str]]:
        rows = Bench.objects.filter(school=instrument.school).values_list("pk", "name")
        return [(str(pk), name) for pk, name in rows]

    def page(self, instrument: Instrument, loan: Loan, form: TakeBackForm, status: int = 200) -> HttpResponse:
        walked = walk_since(loan)
        today = timezone.localdate()
        context = {
            "instrument": instrument,
            "kind": instrument.kind,
            "loan": loan,
            "form": form,
            "walked": walked,
            "draft": draft_of(instrument, purpose=Purpose.RETURN),
            "comparison": comparison_of(
                instrument.kind,
                compare_inspections(loan=loan, taken_back=walked),
            ),
            "days_late": max(0, (today - loan.due_on).days),
            "benches": form.benches,
            "hygiene": [words for _, words in instrument.kind.between_players(aids=False)],
        }
        return render(self.request, "desk/take_back.html", context, status=status)


class TakeBackWalkView(StaffView):
    """Start the return inspection."""

    permission_required = "desk.take_back"

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, TAKE_BACK)
        loan = open_loan_of(instrument)
        if loan is None:
            return TakeBackView(request=request).already_returned(instrument)
        walk = begin_return_walk(loan=loan, actor=request.user, at=timezone.now())
        return redirect("inventory:walk", walk.pk)
