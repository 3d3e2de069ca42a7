"""Lending and taking back."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.keys import key_of
from core.models import User
from core.views import FormView, StaffRequest, StaffView, row_or_404
from desk.pages.hand_out import station_url
from desk.selectors.give_back import reports_on
from desk.selectors.lending import (
    draft_of,
    fits,
    going_out_with,
    may_be_lent,
    others_ready,
    walk_since,
    walked_today,
)
from desk.services.lending import begin_hand_out_walk, begin_return_walk, lend_at_desk, take_back_at_desk
from inventory.models import Instrument, ProblemReport, Purpose, Whereabouts
from inventory.selectors.inspecting import remarks_unread
from inventory.selectors.prices import replacement_amount
from inventory.selectors.state import may_go_out, reasons_today, state_words_of
from inventory.views.rows import instrument_for
from loans.exceptions import AlreadyReturnedError, HasOneError, InspectionMissingError
from loans.forms import LendForm, TakeBackForm
from loans.forms.lending import MOST_PHOTOS
from loans.models import Agreement, Loan, Student
from loans.pages.comparing import comparison_of
from loans.selectors.agreements import current_terms
from loans.selectors.assigning import assigned_instrument, assigned_to
from loans.selectors.comparing import compare_inspections, findings_in_words
from loans.selectors.lending import open_loan_of, open_loans
from loans.selectors.sharing import why_shared
from repairs.models import Bench

SHOWN_READY = 40

LEND, TAKE_BACK = "loans.lend_instrument", "loans.return_instrument"
STATION = "hand_out"  # in the session: whom an instrument is inspected for at a station of a hand-out day


class LendStartView(StaffView):
    """Scan, type, or pick an instrument that may go out."""

    permission_required = "desk.lend"

    def get(self, request: StaffRequest) -> HttpResponse:
        ready = (
            may_be_lent(today=timezone.localdate())
            .visible_to(request.user, LEND)
            .for_table()
            .order_by("kind_code", "asset_number")
        )
        students = Student.objects.visible_to(request.user).current()
        wanted = key_of(request.GET.get("student", ""))
        student = students.filter(pk=wanted).first() if wanted else None
        if student is not None:
            ready = ready.filter(school=student.school)
        planned = assigned_instrument(student) if student is not None else None
        context = {"ready": ready[:SHOWN_READY], "total": ready.count(), "student": student, "planned": planned}
        return render(request, "desk/lend_start.html", context)


class LendView(FormView):
    """Student, due date, accessories and signatures on one page."""

    uploads = MOST_PHOTOS + 1  # and the signed paper
    permission_required = "desk.lend"
    template_name = "desk/lend.html"
    row_name = "instrument"

    def row(self, **lookup: Any) -> Instrument:
        return instrument_for(self.request, lookup["asset_number"], LEND)

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        inspected_for = request.session.get(STATION, {})
        if student := inspected_for.pop(row.asset_number, None):
            request.session[STATION] = inspected_for
            return redirect(station_url(student=student, number=row.asset_number))
        return self.shown(row, self.form(row))

    def form(self, row: Instrument, data: Any = None) -> LendForm:
        wanted = self.request.GET.get("student")
        initial = {"nonce": uuid.uuid4(), "terms": current_terms().key, "student": wanted} if data is None else None
        files = None if data is None else self.request.FILES
        return LendForm(data, files, instrument=row, today=timezone.localdate(), initial=initial)

    def save(self, row: Instrument, form: LendForm) -> str:
        loan = lend_by_form(form, row, **self.actor_and_time())
        text = (
            gettext("%(number)s is lent. The agreement is signed and filed.")
            if Agreement.objects.filter(loan=loan).exists()
            else gettext("%(number)s is lent. The agreement is still to be signed.")
        )
        return self.done(text % {"number": row.asset_number}, "loans:loan", loan.pk)

    def context(self, row: Instrument, form: LendForm) -> dict[str, Any]:
        return lending_context(self.request, row, form) | {"planned_for": assigned_to(row)}


def lend_by_form(form: LendForm, instrument: Instrument, *, actor: User, at: datetime) -> Loan:
    """Lend as the form says, on its own page or at a station."""
    data = form.cleaned_data
    try:
        return lend_at_desk(
            instrument=instrument,
            student=data["student"],
            new_student=form.new_student(),
            due_on=data["due_on"],
            accessories=form.counts(),
            limits_reason=data["limits_reason"],
            only_one=not data["second"],
            photos=data["photos"],
            signing=form.signing(),
            nonce=data["nonce"],
            actor=actor,
            at=at,
        )
    except HasOneError:
        form.asks_second = True
        raise


def lending_context(request: StaffRequest, instrument: Instrument, form: LendForm) -> dict[str, Any]:
    """What a page says of the instrument that is to go out."""
    today = timezone.localdate()
    # Read again: a refusal may mean that somebody else was faster.
    fresh = row_or_404(Instrument.objects.visible_to(request.user).for_table(), pk=instrument.pk)
    last = fresh.inspections.finished().order_by("-finished_at", "-pk").first()
    walked, draft = walked_today(fresh, today=today), draft_of(fresh, purpose=Purpose.HAND_OUT)
    shared = why_shared(fresh)
    may_go = may_go_out(fresh, today=today) and fresh.whereabouts == Whereabouts.IN_STORE and not shared
    words = state_words_of([fresh])[fresh.pk]
    reasons = reasons_today(fresh, today=today, words=words)
    return {
        "instrument": fresh,
        "kind": fresh.kind,
        "terms": form.terms_shown,
        "may_go": may_go,
        "others": [] if may_go else others_ready(fresh, today=today),
        "reasons": [*([{"text": shared}] if shared else []), *reasons],
        "trusted": [reason["text"] for reason in reasons if reason["code"] == "trusted"],
        "remarks": remarks_unread(fresh),
        "limits": words.limits,
        "fits": fits(fresh),
        "last": last,
        "notices": fresh.problem_reports.unconfirmed(),
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


def already_returned(request: StaffRequest, instrument: Instrument) -> str:
    """Tell the user that it was already taken back, and return the address of the instrument's page."""
    text = gettext("%(number)s was already taken back. Nothing was changed.")
    messages.info(request, text % {"number": instrument.asset_number})
    return reverse("desk:instrument", args=[instrument.asset_number])


class TakeBackView(FormView):
    """Compare how it came back with how it went out; then put it in storage or on the bench."""

    permission_required = "desk.take_back"
    template_name = "desk/take_back.html"
    row_name = "loan"

    instrument: Instrument

    def row(self, **lookup: Any) -> Loan | None:
        """The open loan of a school where the user takes back, wherever the instrument has gone since."""
        number = lookup["asset_number"]
        loan = open_loans().visible_to(self.request.user, TAKE_BACK).filter(instrument__asset_number=number.upper())
        found = loan.first()
        self.instrument = found.instrument if found else instrument_for(self.request, number, TAKE_BACK)
        return found

    def form(self, row: Loan | None, data: Any = None) -> forms.Form:
        if row is None:
            return forms.Form(data)  # there is nothing to take back, whatever was typed
        return TakeBackForm(data, **self.facts(row, data))

    def facts(self, row: Loan, data: Any) -> dict[str, Any]:
        """Return what the form knows of the loan, its benches, and what the return inspection found."""
        walked = walk_since(row) if data is None else None
        benches = Bench.objects.filter(school=self.bench_school(row)).in_use().values_list("pk", "name")
        return {
            "loan": row,
            "benches": [(str(pk), name) for pk, name in benches],
            "counted": walked.accessory_counts if walked else None,
            "initial": {"found": "walked" if walked else None},
        }

    def taking_back(self, row: Loan, form: TakeBackForm) -> dict[str, Any]:
        """Return what was said of how it came back and where it goes, as the services take it."""
        data = form.cleaned_data
        walked = walk_since(row) if data["found"] == "walked" else None
        if data["found"] == "walked" and walked is None:
            raise InspectionMissingError(
                gettext("The return inspection is not finished. Finish it, or say it is the same.")
            )
        to_bench = data["to"] == "bench"
        return {
            "accessories_back": form.counts(),
            "walked": walked,
            "bench": Bench.objects.get(school=self.bench_school(row), pk=data["bench"]) if to_bench else None,
            "because": data["because"],
        }

    def save(self, row: Loan | None, form: forms.Form) -> str:
        if not isinstance(form, TakeBackForm) or row is None:
            return already_returned(self.request, self.instrument)
        fields = self.taking_back(row, form)
        try:
            closed = take_back_at_desk(loan=row, **fields, **self.actor_and_time())
        except AlreadyReturnedError:
            return already_returned(self.request, self.instrument)
        number = {"number": self.instrument.asset_number}
        text = gettext("%(number)s is on the bench.") if fields["bench"] else gettext("%(number)s is back in storage.")
        if "line" in self.request.GET:  # one of many at give-back
            return f"{self.done(text % number, 'desk:give-back')}?now=1"
        if (report := self.report()) and not fields["bench"]:
            return self.done(text % number, "desk:reported", report.pk)  # where its job is opened
        return self.done(text % number, "loans:loan", closed.pk)

    def report(self) -> ProblemReport | None:
        """What was reported of it and confirmed while it was out."""
        return reports_on(self.request.user, [self.instrument.pk]).get(self.instrument.pk)

    def bench_school(self, row: Loan) -> int | None:
        """The school at whose benches it may go on: none where it belongs to another than lent it."""
        return row.school_id if row.school_id == self.instrument.school_id else None

    def shown(self, row: Loan | None, form: forms.BaseForm, *, status: int = 200) -> HttpResponse:
        if row is None:
            mine = Loan.objects.visible_to(self.request.user, TAKE_BACK).filter(instrument=self.instrument)
            latest = mine.filter(returned_at__isnull=False).order_by("-returned_at").first()
            context = {"instrument": self.instrument, "latest": latest, "elsewhere": open_loan_of(self.instrument)}
            return render(self.request, "desk/take_back_not_out.html", context)
        return super().shown(row, form, status=status)

    def context(self, row: Loan, form: TakeBackForm) -> dict[str, Any]:
        instrument, walked = self.instrument, walk_since(row)
        return {
            "instrument": instrument,
            "kind": instrument.kind,
            "walked": walked,
            "draft": draft_of(instrument, purpose=Purpose.RETURN),
            "comparison": comparison_of(instrument.kind, compare_inspections(loan=row, taken_back=walked)),
            "report": self.report(),
            "days_late": max(0, (timezone.localdate() - row.due_on).days),
            "benches": form.benches,
            "may_walk": self.bench_school(row) is not None,
            "hygiene": [words for _, words in instrument.kind.between_players(aids=False)],
        }


class TakeBackWalkView(StaffView):
    """Start the return inspection."""

    permission_required = "desk.take_back"

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, TAKE_BACK)
        loan = open_loans().visible_to(request.user, TAKE_BACK).filter(instrument=instrument).first()
        if loan is None:
            return redirect(already_returned(request, instrument))
        walk = begin_return_walk(loan=loan, actor=request.user, at=timezone.now())
        return redirect("inventory:walk", walk.pk)
