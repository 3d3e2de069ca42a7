"""Assignments: propose, look over, change, lock, print."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from core.views import FormView, StaffRequest, StaffView, pdf_response, row_or_404
from inventory.models import Instrument, schools_of
from loans.forms.assigning import AssignmentForm, LineForm, ProposeForm
from loans.models import Assignment, AssignmentLine
from loans.pages.assigning import assignment_page, hand_out_groups, line_words
from loans.pdf import hand_out_pdf
from loans.selectors.assigning import choices_for, lines_of, locked_assignment, troubles_of, unused_for
from loans.selectors.sharing import shared_at
from loans.services import (
    drop_assignment,
    exclude_instrument,
    fix_line,
    give_instrument,
    lock_assignment,
    note_list_printed,
    propose_assignment,
    solve_again,
)
from loans.views.seats import chosen_school

ASSIGN = "loans.assign"
SHOWN = 20  # of the assignments of a school


def assignment_of(request: StaffRequest, pk: int) -> Assignment:
    return row_or_404(Assignment.objects.visible_to(request.user, ASSIGN).select_related("school", "locked_by"), pk=pk)


class AssignmentsView(FormView):
    """The assignments of a school, and a new one."""

    permission_required = ASSIGN
    template_name = "loans/assignments.html"

    def form(self, row: None, data: Any = None) -> ProposeForm:
        school, _schools = chosen_school(self.request, ASSIGN)
        return ProposeForm(data, schools=schools_of(self.request.user, ASSIGN), initial={"school": school})

    def context(self, row: None, form: ProposeForm) -> dict[str, Any]:
        school, schools = chosen_school(self.request, ASSIGN)
        rows = Assignment.objects.visible_to(self.request.user, ASSIGN).filter(school=school)
        return {"school": school, "schools": schools, "assignments": rows[:SHOWN]}

    def save(self, row: None, form: ProposeForm) -> str:
        data = form.cleaned_data
        made = propose_assignment(school=data["school"], nonce=data["nonce"], **self.actor_and_time())
        return self.done(
            _("Proposed. Look it over, change what you know better, then lock it."), "loans:assignment", made.pk
        )


class AssignmentView(FormView):
    """One assignment by class, with what is wrong with it and what can be done."""

    permission_required = ASSIGN
    template_name = "loans/assignment.html"
    row_name = "assignment"

    def row(self, **lookup: Any) -> Assignment:
        return assignment_of(self.request, lookup["pk"])

    def form(self, row: Assignment, data: Any = None) -> AssignmentForm:
        locked = locked_assignment(row.school)
        initial = {"seen": row.revision, "replaces": locked.pk if locked else None}
        return AssignmentForm(data, school=row.school, initial=initial)

    def context(self, row: Assignment, form: AssignmentForm) -> dict[str, Any]:
        lines, today = lines_of(row), timezone.localdate()
        unused, excluded = unused_for(row, lines, today=today)
        return {
            "page": assignment_page(row, lines, troubles_of(lines, today=today)),
            "unused": unused,
            "excluded": excluded,
            "locked": locked_assignment(row.school),
            # After a refusal the page shows what is so by now, and what is sent from it goes by that.
            "now": AssignmentForm(school=row.school, initial=self.form(row).initial),
        }

    def save(self, row: Assignment, form: AssignmentForm) -> str:
        data, sent = form.cleaned_data, form.data
        seen, instrument = data["seen"], data["instrument"]
        if "lock" in sent:
            lock_assignment(assignment=row, seen=seen, replaces=data["replaces"], **self.actor_and_time())
            words = _("Locked. Hand-out goes by it.")
        elif "drop" in sent:
            drop_assignment(assignment=row, **self.actor_and_time())
            words = _("Dropped.")
        elif instrument is not None:
            leave_out = "leave_out" in sent
            exclude_instrument(
                assignment=row, instrument=instrument, is_excluded=leave_out, seen=seen, **self.actor_and_time()
            )
            words = _("Left out. Solve again to go on without it.") if leave_out else _("Included again.")
        else:
            solve_again(assignment=row, seen=seen, **self.actor_and_time())
            words = _("Solved again around what is fixed.")
        return self.done(words, "loans:assignment", row.pk)


class LineView(FormView):
    """Give one line another instrument, fix it, or let it go."""

    permission_required = ASSIGN
    template_name = "loans/assignment_line.html"
    row_name = "line"

    def row(self, **lookup: Any) -> AssignmentLine:
        assignment = assignment_of(self.request, lookup["pk"])
        rows = AssignmentLine.objects.filter(assignment=assignment)
        return row_or_404(
            rows.select_related("assignment__school", "student", "instrument", "period"), pk=lookup["line"]
        )

    def form(self, row: AssignmentLine, data: Any = None) -> LineForm:
        return LineForm(data, line=row, choices=choices_for(row, today=timezone.localdate()))

    def context(self, row: AssignmentLine, form: LineForm) -> dict[str, Any]:
        return {"words": line_words(row)}

    def save(self, row: AssignmentLine, form: LineForm) -> str:
        seen, chosen = form.cleaned_data["seen"], form.chosen()
        if "let_go" in form.data:
            fix_line(line=row, is_fixed=False, seen=seen, **self.actor_and_time())
            words = _("Released: solving again may change it.")
        elif _key(chosen) == row.instrument_id:
            fix_line(line=row, is_fixed=True, seen=seen, **self.actor_and_time())
            words = _("Fixed as it is.")
        else:
            give_instrument(line=row, instrument=chosen, seen=seen, **self.actor_and_time())
            words = _("Changed and fixed.")
        return self.done(words, "loans:assignment", row.assignment_id)


def _key(instrument: Instrument | None) -> int | None:
    return instrument.pk if instrument else None


class HandOutListView(StaffView):
    """The list to print, class by class. It names students, so that taking it out is logged."""

    permission_required = ASSIGN

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        assignment = assignment_of(request, pk)
        groups, today = hand_out_groups(lines_of(assignment), shared_at(assignment.school)), timezone.localdate()
        note_list_printed(assignment=assignment, actor=request.user, at=timezone.now())
        return pdf_response(
            request,
            lambda: hand_out_pdf(assignment, groups, today=today),
            name="hand-out.pdf",
            failed=_("The PDF could not be made."),
            back=redirect(reverse("loans:assignment", args=[assignment.pk])),
        )
