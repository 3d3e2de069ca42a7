"""The lists of loans and of students as files, as they are filtered. Posted: each is an entry of the log."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from core.pdf import PdfError
from core.responses import file_response
from core.sheets import OutValue
from core.tables import FILE_FORMS
from core.views import SearchedView, StaffRequest, StaffView
from inventory.models import schools_of
from loans.forms import StudentFilterForm
from loans.forms.filters import schools_in
from loans.models import Loan, Student
from loans.pages.lists import LOAN_HEADER, STUDENT_HEADER, loan_rows, student_rows
from loans.pdf.copies import copy_pdf
from loans.selectors.held import held_on
from loans.selectors.lending import schools_with_names
from loans.services import note_copy
from loans.views.loans import loan_filter
from loans.views.students import student_of

AT_ONCE = 1000  # rows read together

Rows = Callable[[Any], Iterable[Sequence[OutValue]]]


class ListExportView(SearchedView, is_base=True):
    """A list as a workbook, as CSV, or as PDF to print."""

    what: str
    back: str
    http_method_names = ["post", "options"]

    def file(
        self, found: Any, rows: Rows, *, title: str, header: Sequence[Any], schools: Collection[int]
    ) -> HttpResponseBase:
        form = self.request.POST.get("form", "")
        if form not in FILE_FORMS:
            return redirect(self.back)
        return self.list_file(
            name=f"{self.what}-{timezone.localdate():%Y-%m-%d}.{form}",
            what=self.what,
            title=title,
            header=header,
            rows=rows(found.iterator(chunk_size=AT_ONCE)),
            count=found.count(),
            schools=schools,
            back=self.back,
        )


class LoanExportView(ListExportView):
    permission_required = "loans.view_loan"
    what, back = "loans", "loans:list"

    def post(self, request: StaffRequest) -> HttpResponseBase:
        schools = schools_of(request.user, self.permission_required)
        form = loan_filter(request.user, self.with_words(request.POST))
        named = schools_with_names(request.user)
        now = timezone.now()
        rows = Loan.objects.visible_to(request.user)
        found = form.narrow(rows, today=timezone.localdate(), now=now, named_schools=named)
        found = found.for_table().select_related("agreement").order_by("due_on", "pk")
        lending = frozenset(schools_of(request.user, "loans.lend_instrument").values_list("pk", flat=True))
        return self.file(
            found,
            lambda loans: loan_rows(loans, named=named, lending=lending),
            title=_("Loans"),
            header=LOAN_HEADER,
            schools=schools_in(form, schools),
        )


class StudentExportView(ListExportView):
    permission_required = "loans.view_student"
    what, back = "students", "loans:students"

    def post(self, request: StaffRequest) -> HttpResponseBase:
        schools = schools_of(request.user, self.permission_required)
        form = StudentFilterForm(self.with_words(request.POST) or {"state": "current"})
        found = form.narrow(Student.objects.visible_to(request.user).filter(erased_at=None, merged_into=None))
        return self.file(
            found.with_out().select_related("school").order_by("sort_name", "pk"),
            student_rows,
            title=_("Students"),
            header=STUDENT_HEADER,
            schools=list(schools.values_list("pk", flat=True)[:2]),
        )


class StudentCopyView(StaffView):
    """Everything held on a student as PDF, for a guardian who asks. Posted: it is an entry of the log."""

    permission_required = "loans.view_student"
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        student, now = student_of(request, pk), timezone.now()
        try:
            data = copy_pdf(title=_("What we hold"), school=student.school.name, sections=held_on(student), at=now)
        except PdfError:
            messages.error(request, _("The copy could not be laid out. Please contact support."))
            return redirect("loans:student", pk)
        note_copy(student=student, actor=request.user, at=now)
        return file_response(data, name=f"student-{pk}-copy.pdf", is_download=True)
