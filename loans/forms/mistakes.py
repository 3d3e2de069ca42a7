"""A loan that was a mistake, and another due date."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from core.forms import OnceForm, set_choices, set_queryset
from loans.forms.lending import StudentField
from loans.models import Loan, Student
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
            (OTHER, _("Another student has it")),
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
        if data.get("what") == OTHER and not data.get("student") and "student" not in self.errors:
            self.add_error("student", gettext("Choose the student who has it."))
        return data


class DueDateForm(forms.Form):
    due_on = forms.DateField(label=_("New due date"), widget=DAY)


class DueDatesForm(DueDateForm):
    """``due`` are the dates that open loans have now, each with how many."""

    due_now = forms.ChoiceField(label=_("Which loans?"))
    grade = forms.CharField(
        required=False, max_length=10, label=_("Only grade"), widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    field_order = ("due_now", "grade", "due_on")

    def __init__(self, *args: Any, due: Sequence[tuple[date, int]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = gettext("Due %(day)s: %(count)d out")
        choices = [(day.isoformat(), words % {"day": full_day(day), "count": count}) for day, count in due]
        set_choices(self, "due_now", [("", gettext("Choose")), *choices])
