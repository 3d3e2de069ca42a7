"""Students: the list, one student with loans; adding, editing, leaving, erasing."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django_tables2 import RequestConfig

from core.pdf import PdfError
from core.views import StaffRequest, StaffView, row_or_404
from inventory.exceptions import RefusedError
from inventory.models import schools_of
from inventory.rules.playing import LEVEL_NAMES
from loans.forms import EraseForm, StudentFilterForm, StudentForm, StudentLeftForm
from loans.models import Student
from loans.selectors import loans_of, papers_to_keep, places_to_redact
from loans.services import add_student, change_student, erase_student, note_student_left
from loans.tables import StudentTable
from loans.tasks import print_before_erasing

PER_PAGE = 50


def student_of(request: StaffRequest, pk: int, permission: str = "loans.view_student") -> Student:
    rows = Student.objects.visible_to(request.user, permission).filter(erased_at=None)
    return row_or_404(rows.select_related("school"), pk=pk)


class StudentListView(StaffView):
    permission_required = "loans.view_student"

    def get(self, request: StaffRequest) -> HttpResponse:
        schools = schools_of(request.user, "loans.view_student")
        form = StudentFilterForm(request.GET or {"state": "current"})
        rows = Student.objects.visible_to(request.user).filter(erased_at=None).select_related("school")
        rows = form.narrow(rows.annotate(out=Count("loans", filter=Q(loans__returned_at=None, loans__isnull=False))))
        table = StudentTable(rows, exclude=("school",) if schools.count() < 2 else ())
        RequestConfig(request, paginate={"per_page": PER_PAGE}).configure(table)
        template = "components/table.html" if request.htmx else "loans/student_list.html"
        may_add = request.user.has_perm("loans.change_student")
        return render(request, template, {"table": table, "form": form, "may_add": may_add})


class StudentView(StaffView):
    permission_required = "loans.view_student"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        student = student_of(request, pk)
        context = {
            "student": student,
            "level": LEVEL_NAMES.get(student.level, student.level),
            "loans": loans_of(student),
            "today": timezone.localdate(),
            "may_change": request.user.has_perm("loans.change_student"),
        }
        return render(request, "loans/student.html", context)


class AddStudentView(StaffView):
    permission_required = "loans.change_student"

    def get(self, request: StaffRequest) -> HttpResponse:
        form = StudentForm(schools=schools_of(request.user, self.permission_required))
        return self.page(request, form)

    def post(self, request: StaffRequest) -> HttpResponse:
        form = StudentForm(request.POST, schools=schools_of(request.user, self.permission_required))
        if form.is_valid():
            try:
                student = add_student(
                    school=form.chosen_school(),
                    actor=request.user,
                    at=timezone.now(),
                    nonce=form.cleaned_data["nonce"],
                    **form.facts,
                )
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(request, _("Added."))
                return redirect("loans:student", student.pk)
        return self.page(request, form, status=422)

    def page(self, request: StaffRequest, form: StudentForm, status: int = 200) -> HttpResponse:
        return render(request, "loans/student_form.html", {"form": form, "title": _("Add a student")}, status=status)


class EditStudentView(StaffView):
    permission_required = "loans.change_student"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        student = student_of(request, pk, self.permission_required)
        return self.page(request, student, StudentForm(schools=[], student=student))

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        student = student_of(request, pk, self.permission_required)
        form = StudentForm(request.POST, schools=[], student=student)
        if form.is_valid():
            try:
                change_student(student=student, actor=request.user, at=timezone.now(), **form.facts)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(request, _("Saved."))
                return redirect("loans:student", student.pk)
        return self.page(request, student, form, status=422)

    def page(self, request: StaffRequest, student: Student, form: StudentForm, status: int = 200) -> HttpResponse:
        context = {"form": form, "student": student, "title": _("Edit student")}
        return render(request, "loans/student_form.html", context, status=status)


class StudentLeftView(StaffView):
    """Record that a student has left, or is back."""

    permission_required = "loans.change_student"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        student = student_of(request, pk, self.permission_required)
        form = StudentLeftForm(initial={"left_on": timezone.localdate()})
        return render(request, "loans/student_left.html", {"student": student, "form": form})

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        student = student_of(request, pk, self.permission_required)
        form = StudentLeftForm(request.POST)
        is_back = "back" in request.POST
        if not is_back and not form.is_valid():
            return render(request, "loans/student_left.html", {"student": student, "form": form}, status=422)
        left_on = None if is_back else form.cleaned_data["left_on"]
        note_student_left(student=student, left_on=left_on, actor=request.user, at=timezone.now())
        messages.success(request, _("Saved."))
        return redirect("loans:student", student.pk)


class EraseStudentView(StaffView):
    """Show where the student is named, then erase the names."""

    permission_required = "loans.change_student"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        student = student_of(request, pk, self.permission_required)
        return self.page(
            request, student, EraseForm(has_papers_to_keep=bool(papers_to_keep(student, at=timezone.now())))
        )

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        student = student_of(request, pk, self.permission_required)
        now = timezone.now()
        form = EraseForm(request.POST, has_papers_to_keep=bool(papers_to_keep(student, at=now)))
        if not form.is_valid():
            return self.page(request, student, form, status=422)
        try:
            if not form.cleaned_data.get("papers_too"):
                print_before_erasing(student=student, actor=request.user, at=now)
            erase_student(
                student=student,
                actor=request.user,
                at=now,
                meant=request.POST.getlist("meant"),
                nicknames=form.nickname_list(),
                deletes_papers_early=form.cleaned_data.get("papers_too", False),
            )
        except RefusedError as error:
            return self.page(request, student, form, refused=str(error), status=422)
        except PdfError:
            refused = _("The PDF of a signed paper that must be kept could not be made. Please contact support.")
            return self.page(request, student, form, refused=refused, status=422)
        messages.success(request, _("Erased. The loans stay, without the name."))
        return redirect("loans:students")

    def page(
        self, request: StaffRequest, student: Student, form: EraseForm, *, refused: str = "", status: int = 200
    ) -> HttpResponse:
        papers = papers_to_keep(student, at=timezone.now())
        context = {
            "student": student,
            "form": form,
            "refused": refused,
            "places": places_to_redact(student, nicknames=form.nickname_list(), checked=boxes(request)),
            "papers": papers,
            "papers_until": max((until for _, until in papers), default=None),
        }
        return render(request, "loans/student_erase.html", context, status=status)


def boxes(request: StaffRequest) -> dict[str, bool]:
    """Return the check boxes that were on the page, and whether each was checked."""
    meant = set(request.POST.getlist("meant"))
    return {key: key in meant for key in request.POST.getlist("shown")}
