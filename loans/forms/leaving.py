"""The grades going up, and who leaves."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, RowsField, set_choices, set_queryset
from core.keys import keys_of
from loans.models import Student
from loans.selectors.grades import GradeLine
from loans.services.grades import LEAVES

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
GONE, STAYS = "leaves", "stays"


class LeaversForm(OnceForm):
    students = RowsField(
        queryset=Student.objects.none(), error_messages={"required": _("Check the students who are leaving.")}
    )
    left_on = forms.DateField(label=_("Left on"), widget=DAY)

    def __init__(self, *args: Any, students: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "students", students)


class RollGradesForm(OnceForm):
    """What becomes of each grade, and who stays in it all the same. ``seen`` carries the list as it was shown."""

    seen = forms.CharField(widget=forms.HiddenInput)
    left_on = forms.DateField(label=_("Last day of those who leave"), widget=DAY)

    def __init__(self, *args: Any, lines: Sequence[GradeLine], left_on: date, **kwargs: Any) -> None:
        shown = json.dumps({line.grade: len(line.students) for line in lines})
        super().__init__(*args, initial={"seen": shown, "left_on": left_on}, **kwargs)
        self.grades = list(lines)
        for at, line in enumerate(self.grades):
            choices = (
                [(line.goes_to, gettext("Goes up to %(grade)s") % {"grade": line.goes_to})] if line.goes_to else []
            )
            choices += [(GONE, gettext("Leaves")), (STAYS, gettext("Stays as it is"))]
            usual = GONE if line.leaves else line.goes_to or STAYS
            self.fields[f"step-{at}"] = forms.ChoiceField(initial=usual, label=line.grade or gettext("No grade"))
            set_choices(self, f"step-{at}", choices)

    def lines(self) -> Iterator[dict[str, Any]]:
        staying = self.staying()
        for at, line in enumerate(self.grades):
            yield {
                "line": line,
                "step": self[f"step-{at}"],
                "students": [(student, student.pk in staying) for student in line.students],
            }

    def staying(self) -> set[int]:
        """Return who is ticked as staying in the grade."""
        sent = self.data.getlist("stay") if hasattr(self.data, "getlist") else ()
        return set(keys_of(sent))

    def clean_seen(self) -> Mapping[str, int]:
        try:
            seen = json.loads(self.cleaned_data["seen"])
        except (ValueError, RecursionError):
            seen = None
        return seen if isinstance(seen, dict) else {}

    def steps(self) -> dict[str, str]:
        """Return by grade what it goes up to, or that it leaves; a grade that stays is left out."""
        chosen = {line.grade: self.cleaned_data[f"step-{at}"] for at, line in enumerate(self.grades)}
        return {grade: LEAVES if to == GONE else to for grade, to in chosen.items() if to != STAYS}
