"""Two records of one student: merged, and taken apart again."""

from __future__ import annotations

from typing import Any

from django.http import Http404
from django.utils.translation import gettext as _

from loans.forms.merging import MergeStudentForm
from loans.models import Student
from loans.selectors.students import namesakes_of
from loans.services.merging import merge_students, unmerge_student
from loans.views.students import CHANGE, StudentFormView


class MergeStudentView(StudentFormView):
    """Choose which other record is the same student; take one apart again."""

    permission_required = CHANGE
    template_name = "loans/student_merge.html"

    def row(self, **lookup: Any) -> Student:
        student = super().row(**lookup)
        if student.merged_into_id or student.erased_at:
            raise Http404("merged or erased")
        return student

    def form(self, row: Student, data: Any = None) -> MergeStudentForm:
        return MergeStudentForm(data, others=namesakes_of(row), merged=row.merged_from.all())

    def save(self, row: Student, form: MergeStudentForm) -> str:
        if apart := form.cleaned_data.get("apart"):
            unmerge_student(away=apart, **self.actor_and_time())
            return self.done(_("It is a separate record again."), "loans:student", apart.pk)
        merge_students(kept=row, away=form.cleaned_data["other"], **self.actor_and_time())
        return self.done(_("The two records are one now. Both histories are kept."), "loans:student", row.pk)
