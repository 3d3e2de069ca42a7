"""Students: the list, one student with loans; adding, editing, leaving, erasing."""

from __future__ import annotations

from typing import Any

from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from core.pdf import PdfError
from core.tables import show_page
from core.views import FormView, RememberedView, SearchedView, StaffRequest, StaffView, list_filter, row_or_404
from inventory.access import has_perm_at_school
from inventory.exceptions import RefusedError
from inventory.models import schools_of
from inventory.rules.playing import level_name
from loans.forms import EraseForm, StudentFilterForm, StudentForm, StudentLeftForm
from loans.models import Student
from loans.selectors.erasing import places_to_redact
from loans.selectors.ledger import owed_by
from loans.selectors.lending import loans_of
from loans.selectors.papers import papers_to_keep
from loans.services import add_student, change_student, erase_student, note_student_left
from loans.tables import StudentTable
from loans.tasks import print_before_erasing

PER_PAGE = 50
CHANGE = "loans.change_student"


def student_of(request: StaffRequest, pk: int, permission: str = "loans.view_student") -> Student:
    rows = Student.objects.visible_to(request.user, permission).filter(erased_at=None)
    return row_or_404(rows.select_related("school"), pk=pk)


class StudentListView(RememberedView, SearchedView):
    list_name = "students"
    permission_required = "loans.view_student"

    def get(self, request: StaffRequest) -> HttpResponse:
        if back := self.to_kept_list():
            return back
        schools = schools_of(request.user, "loans.view_student")
        form = StudentFilterForm(self.query() or {"state": "current"})
        rows = (
            Student.objects.visible_to(request.user).filter(erased_at=None, merged_into=None).select_related("school")
        )
        rows = form.narrow(rows.with_out().with_guardian())
        table = StudentTable(rows, exclude=("school",) if schools.count() < 2 else ())
        self.remember(form, table)
        show_page(table, request, per_page=PER_PAGE, files=())
        template = "loans/student_list.html" + ("#list" if request.htmx else "")
        add = {"label": _("Add a student"), "url": reverse("loans:add-student"), "main": True}
        roster = {"label": _("Import a roster"), "url": reverse("loans:roster")}
        acts = [add, roster] if request.user.has_perm(CHANGE) else []
        return render(
            request, template, {"table": table, "form": form, "acts": acts, "filters": list_filter(request.GET)}
        )


class StudentView(StaffView):
    permission_required = "loans.view_student"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        student = student_of(request, pk)
        if student.merged_into_id is not None:
            return redirect("loans:student", student.merged_into_id)
        owed, loans = owed_by(student), list(loans_of(student))
        context = {
            "student": student,
            "level": level_name(student.level),
            "loans": loans,
            "has_out": any(loan.is_open for loan in loans),
            "owed": owed,
            "credit": -owed,
            "may_see_account": has_perm_at_school(request.user, "loans.view_ledger", student.school_id),
            "today": timezone.localdate(),
            "may_change": request.user.has_perm("loans.change_student"),
        }
        return render(request, "loans/student.html", context)


class AddStudentView(FormView):
    permission_required = CHANGE
    template_name = "loans/student_form.html"

    def form(self, row: None, data: Any = None) -> StudentForm:
        return StudentForm(data, schools=schools_of(self.request.user, self.permission_required))

    def save(self, row: None, form: StudentForm) -> str:
        school, nonce = form.chosen_school(), form.cleaned_data["nonce"]
        student = add_student(school=school, nonce=nonce, **self.actor_and_time(), **form.facts)
        return self.done(_("Added."), "loans:student", student.pk)


class StudentFormView(FormView, is_base=True):
    """A form about one student."""

    row_name = "student"

    def row(self, **lookup: Any) -> Student:
        return student_of(self.request, lookup["pk"], self.permission_required)


class EditStudentView(StudentFormView):
    permission_required = CHANGE
    template_name = "loans/student_form.html"

    def form(self, row: Student, data: Any = None) -> StudentForm:
        return StudentForm(data, schools=[], student=row)

    def save(self, row: Student, form: StudentForm) -> str:
        change_student(student=row, **self.actor_and_time(), **form.facts)
        return self.done(_("Saved."), "loans:student", row.pk)


class StudentLeftView(StudentFormView):
    """Record that a student has left, or is back."""

    permission_required = CHANGE
    template_name = "loans/student_left.html"

    def form(self, row: Student, data: Any = None) -> Form:
        if data and "back" in data:
            return Form(data)  # a button and nothing to type
        return StudentLeftForm(data, initial={"left_on": timezone.localdate()})

    def save(self, row: Student, form: Form) -> str:
        note_student_left(student=row, left_on=form.cleaned_data.get("left_on"), **self.actor_and_time())
        return self.done(_("Saved."), "loans:student", row.pk)


class EraseStudentView(StudentFormView):
    """Show where the student is named, then erase the names."""

    permission_required = CHANGE
    template_name = "loans/student_erase.html"

    def form(self, row: Student, data: Any = None) -> EraseForm:
        return EraseForm(data, has_papers_to_keep=bool(papers_to_keep(row, at=timezone.now())))

    def save(self, row: Student, form: EraseForm) -> str:
        by, papers_too = self.actor_and_time(), form.cleaned_data.get("papers_too", False)
        if not papers_too:
            try:
                print_before_erasing(student=row, **by)
            except PdfError as error:
                text = _("The PDF of a signed paper that must be kept could not be made. Please contact support.")
                raise RefusedError(text) from error
        erase_student(
            student=row,
            meant=self.request.POST.getlist("meant"),
            nicknames=form.nickname_list(),
            deletes_papers_early=papers_too,
            **by,
        )
        return self.done(_("Erased. The loans stay, without the name."), "loans:students")

    def context(self, row: Student, form: EraseForm) -> dict[str, Any]:
        papers = papers_to_keep(row, at=timezone.now())
        return {
            "places": places_to_redact(row, nicknames=form.nickname_list(), checked=boxes(self.request)),
            "papers": papers,
            "papers_until": max((until for _, until in papers), default=None),
        }


def boxes(request: StaffRequest) -> dict[str, bool]:
    """Return the check boxes that were on the page, and whether each was checked."""
    meant = set(request.POST.getlist("meant"))
    return {key: key in meant for key in request.POST.getlist("shown")}
