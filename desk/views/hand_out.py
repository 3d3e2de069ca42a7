"""Hand-out day: the stations, the board for the room, the day's papers, and what is left over."""

from __future__ import annotations

import uuid
from datetime import timedelta
from functools import partial
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, ngettext

from core.keys import key_of
from core.responses import home_url
from core.views import FormView, SearchedView, StaffRequest, StaffView, do_later, is_for_worker, made_once, row_or_404
from core.views.later import WORDS
from core.views.searching import LONGEST
from desk.pages.hand_out import found_lines, left_groups, station_url
from desk.pdf import agreements_pdf
from desk.selectors.hand_out import (
    LEND,
    Found,
    by_class,
    expected_at,
    found_at_station,
    free_instruments,
    lent_on,
)
from desk.services.lending import begin_hand_out_walk
from desk.views.lending import STATION, lend_by_form, lending_context
from desk.views.papers import MOST_AT_ONCE
from inventory.models import Instrument, Whereabouts
from inventory.views.rows import instrument_for
from loans.forms import LendForm
from loans.forms.signing import LATER
from loans.models import Agreement, Loan, PaperToSign, Student
from loans.selectors.agreements import current_terms
from loans.selectors.assigning import assigned_instrument, assigned_to
from loans.selectors.lending import term_before
from loans.selectors.papers import due_papers
from loans.selectors.to_sign import language_of
from loans.services import undo_loan
from loans.services.to_sign import print_papers_of_loans
from loans.views.seats import chosen_school

UNDO_FOR = timedelta(minutes=1)
SHOWN = 60
NEED = "loans.view_need"


class HandOutView(SearchedView):
    """A station without a student: one box for the student's card, a few letters of a name, or an instrument's tag."""

    permission_required = "desk.lend"

    def post(self, request: StaffRequest) -> HttpResponseBase:
        """Answer letters as they are typed; what is sent is asked again, so that no address holds a name."""
        return self.shown(request.POST) if request.htmx else super().post(request)

    def get(self, request: StaffRequest) -> HttpResponse:
        return self.shown(self.query() or QueryDict())

    def shown(self, query: QueryDict) -> HttpResponse:
        request, words = self.request, query.get(WORDS, "")[:LONGEST]
        student, number = key_of(query.get("student", "")), query.get("instrument", "")
        found = found_at_station(request.user, words, has_student=bool(student)) if words else Found()
        if not request.htmx and found.count == 1:
            return redirect(self.leads_to(found, student=student, number=number))
        if not request.htmx and student and not words:
            return redirect(station_url(student=student, number=number))
        shown = {"lines": found_lines(found, student=student, number=number), "words": words}
        if request.htmx:
            return render(request, "desk/hand_out.html#found", shown)
        last = self.last(key_of(request.GET.get("last", "")))
        acts = [
            {"label": gettext("Board for the room"), "url": reverse("desk:hand-out-board")},
            {"label": gettext("Still to come"), "url": reverse("desk:hand-out-left")},
        ]
        context = {
            "acts": acts,
            "student_key": student,
            "instrument": instrument_for(request, number, LEND) if number else None,
            "last": last,
            "may_undo": last is not None and last.is_open and timezone.now() - last.lent_at < UNDO_FOR,
        }
        return render(request, "desk/hand_out.html", shown | context)

    def leads_to(self, found: Found, *, student: int | None, number: str) -> str:
        """Where the only one found leads: an instrument that is assigned brings its student along."""
        for one in found.students:
            return station_url(student=one.pk, number=number)
        instrument = found.instruments[0]
        if not student and instrument.whereabouts == Whereabouts.IN_STORE:
            planned = assigned_to(instrument)
            student = planned.pk if planned and planned.left_on is None and planned.erased_at is None else None
        return station_url(student=student, number=instrument.asset_number)

    def last(self, key: int | None) -> Loan | None:
        """What this station handed out a moment ago."""
        rows = Loan.objects.visible_to(self.request.user, LEND).for_table().select_related("agreement")
        return rows.filter(pk=key).first() if key else None


class HandOutToView(FormView):
    """One student at a station: the instrument, its condition, what goes along and the signature, in one tap."""

    uploads = 1
    permission_required = "desk.lend"
    template_name = "desk/hand_out_to.html"
    row_name = "student"

    instrument: Instrument | None
    planned: Instrument | None  # by the locked assignment

    def row(self, **lookup: Any) -> Student:
        rows = Student.objects.visible_to(self.request.user, LEND).current().select_related("school")
        student = row_or_404(rows, pk=lookup["pk"])
        self.planned = assigned_instrument(student)
        number = self.request.GET.get("instrument", "")
        self.instrument = instrument_for(self.request, number, LEND) if number else self.planned
        return student

    @property
    def is_planned(self) -> bool:
        return self.instrument is not None and self.instrument == self.planned

    def form(self, row: Student, data: Any = None) -> forms.Form:
        if self.instrument is None:
            return forms.Form(data)  # there is nothing to hand out yet, whatever was sent
        form = LendForm(
            data,
            None if data is None else self.request.FILES,
            instrument=self.instrument,
            today=timezone.localdate(),
            initial={
                "nonce": uuid.uuid4(),
                "terms": current_terms(language_of(row)).key,
                "student": row.pk,
                "signed": LATER,
                "limits_reason": gettext("Assigned with its limits known.") if self.is_planned else "",
            },
        )
        form.initial["all_here"] = not form.is_part_counted
        return form

    def save(self, row: Student, form: forms.Form) -> str:
        if not isinstance(form, LendForm) or self.instrument is None:
            return station_url(student=row.pk)
        loan = lend_by_form(form, self.instrument, **self.actor_and_time())
        return f"{station_url()}?last={loan.pk}"

    def context(self, row: Student, form: forms.Form) -> dict[str, Any]:
        number = self.instrument.asset_number if self.instrument else ""
        has = list(Loan.objects.open().filter(student=row).for_table().order_by("lent_at"))
        context: dict[str, Any] = {
            "has": has,
            "planned": self.planned,
            "is_planned": self.is_planned,
            "address": station_url(student=row.pk, number=number),
        }
        if isinstance(form, LendForm) and self.instrument is not None:
            context |= lending_context(self.request, self.instrument, form)
            kinds = {loan.instrument.kind_code for loan in has} if row.who == Student.Who.STUDENT else set()
            form.asks_second = form.asks_second or self.instrument.kind_code in kinds
            planned = assigned_to(self.instrument)
            context["planned_for"] = planned if planned != row else None
            context["others"] = [
                (one, station_url(student=row.pk, number=one.asset_number)) for one in context["others"]
            ]
        return context


class HandOutWalkView(StaffView):
    """Something changed since the last inspection: walk it, then come back to the same student."""

    permission_required = "desk.lend"

    def post(self, request: StaffRequest, pk: int, asset_number: str) -> HttpResponse:
        student = row_or_404(Student.objects.visible_to(request.user, LEND).current(), pk=pk)
        instrument = instrument_for(request, asset_number, LEND)
        walk = begin_hand_out_walk(instrument=instrument, actor=request.user, at=timezone.now())
        request.session[STATION] = request.session.get(STATION, {}) | {instrument.asset_number: student.pk}
        return redirect("inventory:walk", walk.pk)


class HandOutUndoView(StaffView):
    """Take back at once what this station handed out a moment ago; later it is asked what happened."""

    permission_required = "desk.lend"

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        loan = row_or_404(Loan.objects.visible_to(request.user, LEND).for_table(), pk=pk)
        if not loan.is_open:
            messages.info(request, gettext("It was taken back already. Nothing was changed."))
            return redirect("desk:hand-out")
        if timezone.now() - loan.lent_at >= UNDO_FOR or term_before(loan) is not None:
            return redirect("loans:undo", loan.pk)
        undo_loan(loan=loan, left_the_room=False, actor=request.user, at=timezone.now())
        messages.success(request, gettext("Undone. It counts as never lent."))
        return redirect(station_url(student=loan.student_id, number=loan.instrument.asset_number))


class HandOutBoardView(StaffView):
    """How far the day is, large enough for the room: numbers and classes, and no names."""

    permission_required = NEED

    def get(self, request: StaffRequest) -> HttpResponse:
        school, schools = chosen_school(request, NEED)
        rows = expected_at(school) if school else []
        context = {
            "school": school,
            "schools": schools,
            "classes": by_class(rows),
            "expected": len(rows),
            "handed": sum(row.is_served for row in rows),
            "may_hand_out": request.user.has_perm("desk.lend"),
        }
        return render(request, "desk/hand_out_board.html" + ("#board" if request.htmx else ""), context)


class HandOutLeftView(StaffView):
    """Who is still to come and what for, what nobody has, and the papers that the day still needs."""

    permission_required = "desk.lend"

    def get(self, request: StaffRequest) -> HttpResponse:
        school, schools = chosen_school(request, LEND)
        today = timezone.localdate()
        rows = expected_at(school, today=today) if school else []
        free = free_instruments(school, rows, today=today)
        lent = lent_on(school, today)
        context = {
            "school": school,
            "schools": schools,
            "classes": left_groups(by_class(rows)),
            "to_come": sum(not row.is_served for row in rows),
            "free": free[:SHOWN],
            "free_count": free.count(),
            "lent_count": lent.count(),
            "unsigned_count": lent.unsigned().count(),
            "unmade_count": due_papers().filter(loan__in=lent, pdf_sha256="").count(),
        }
        return render(request, "desk/hand_out_left.html", context)


class HandOutPapersView(StaffView):
    """Print the agreements of what went out today as one PDF: those to be signed, then those that are signed and filed.

    ``without`` is how many the page said are still being made; while there are more, nothing is printed.
    """

    permission_required = "desk.lend"

    def post(self, request: StaffRequest) -> HttpResponse:
        school, _schools = chosen_school(request, LEND)
        today = timezone.localdate()
        lent = lent_on(school, today)
        loans = list(lent.unsigned().for_signing().order_by("student__sort_name", "pk"))
        signed = (
            Agreement.objects.visible_to(request.user, "loans.view_agreement").filter(loan__in=lent).exclude(pdf="")
        )
        filed = list(signed.order_by("loan__student__sort_name", "pk"))
        back = redirect(reverse("desk:hand-out-left", query=request.GET))
        unmade = due_papers().filter(loan__in=lent, pdf_sha256="").count()
        if unmade > (key_of(request.POST.get("without", "")) or 0):
            words = ngettext(
                "The PDF of %(n)d signed agreement is still being made. Print again in a moment, or now without it.",
                "The PDFs of %(n)d signed agreements are still being made. Print again in a moment, or now without them.",
                unmade,
            )
            messages.info(request, words % {"n": unmade})
            return back
        if not loans and not filed:
            messages.info(request, gettext("There are no agreements from today to print yet."))
            return back
        if len(loans) > MOST_AT_ONCE and is_for_worker(request):
            return do_later(request, title=gettext("Agreements"), permission=self.permission_required)
        issue = partial(print_papers_of_loans, loans=loans, actor=request.user, at=timezone.now())
        papers = made_once(request, issue, rows=PaperToSign.objects.visible_to(request.user, LEND).to_print())
        return self.export_pdf(
            lambda: agreements_pdf(papers, filed, home=home_url(request)),
            what="agreements",
            rows=len(papers) + len(filed),
            schools=[school.pk] if school else [],
            name="agreements.pdf",
            failed=gettext("The PDF could not be made. Please contact support."),
            back=back,
        )
