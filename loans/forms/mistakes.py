"""A loan that was a mistake, and another due date."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, RowsField, set_queryset
from loans.forms.lending import StudentField
from loans.models import Loan, LoanQuerySet, Student
from loans.selectors.students import students_of

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
LEFT, STAYED, OTHER = "left", "stayed", "other"


class UndoLoanForm(OnceForm):
    """What happened instead: nobody took it, it left and is back, or another student has it."""

    what = forms.ChoiceField(
        label=_("What happened?"),
        choices=(
            (STAYED, _("It never left the room")),
            (LEFT, _("It left the room and is back here")),
            (OTHER, _("Wrong student: another one has it")),
        ),
        widget=forms.RadioSelect,
    )
    student = StudentField(
        queryset=Student.objects.none(), required=False, label=_("Who has it"), empty_label=_("Choose")
    )

    def __init__(self, *args: Any, loan: Loan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "student", students_of(loan.school).exclude(pk=loan.student_id))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("what") in {STAYED, LEFT}:
            self.errors.pop("student", None)  # it is not asked for then, nor seen
        if data.get("what") == OTHER and not data.get("student") and "student" not in self.errors:
            self.add_error("student", gettext("Choose the student who has it."))
        return data


class DueDateForm(forms.Form):
    due_on = forms.DateField(label=_("New due date"), widget=DAY)


class LoansField(RowsField):
    def label_from_instance(self, obj: Any) -> str:
        student, instrument = obj.student, obj.instrument
        return f"{student.sort_name or student}, {instrument.asset_number}, {instrument.kind.name}"


class DueDatesForm(DueDateForm):
    """``loans`` are those due on one day; all are chosen until somebody takes one out."""

    loans = LoansField(
        queryset=Loan.objects.none(),
        label=_("Which loans?"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Choose at least one loan.")},
    )

    def __init__(self, *args: Any, loans: LoanQuerySet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "loans", loans)
        self.initial.setdefault("loans", [loan.pk for loan in loans])


class RenewForm(OnceForm):
    due_on = forms.DateField(label=_("Due back"), widget=DAY)
