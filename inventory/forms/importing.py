"""Sending a list, and saying what its columns hold."""

from __future__ import annotations

from typing import Any

from django import forms

from core.forms import set_queryset
from core.sheets import LARGEST_FILE
from inventory.models import School
from inventory.rules.intake.fields import IntakeField
from inventory.rules.intake.mapping import ColumnMapping

COLUMN = "column-"  # before a column's place in the name of its field
OUT = ("", "Leave it out")
NO_VALUES = (IntakeField.WHEREABOUTS, IntakeField.STUDENT, IntakeField.VALUE, IntakeField.QUANTITY)


class SendListForm(forms.Form):
    file = forms.FileField(
        label="Spreadsheet",
        help_text=f".xlsx or .csv, as it is, up to {LARGEST_FILE // 2**20} MB.",
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,.txt,.tsv,text/csv"}),
        error_messages={
            "required": "Choose the file.",
            "missing": "Choose the file.",
            "empty": "The file is empty.",
            "invalid": "The file did not arrive. Choose it once more.",
        },
    )
    school = forms.ModelChoiceField(
        queryset=School.objects.none(),
        label="School of the rows that name none",
        empty_label=None,
        error_messages={"invalid_choice": "You may not import for this school.", "required": "Choose the school."},
    )
    worksheet = forms.CharField(
        required=False, max_length=60, label="Worksheet", help_text="Empty: the first that holds a table."
    )

    def __init__(self, *args: Any, schools: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "school", schools)

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size and file.size > LARGEST_FILE:
            raise forms.ValidationError(
                f"The file is larger than {LARGEST_FILE // 2**20} MB. Split it and send the parts one by one."
            )
        return file


class ColumnsForm(forms.Form):
    """One choice for each column of the list."""

    def __init__(self, *args: Any, guess: ColumnMapping, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.guess = guess
        values = [(field.value, field.label) for field in IntakeField if field not in NO_VALUES]
        others = [(field.value, field.label) for field in NO_VALUES]
        choices = [OUT, ("Of the instrument", values), ("Looked at, not kept", others)]
        for column in guess.columns:
            self.fields[f"{COLUMN}{column.index}"] = forms.ChoiceField(
                choices=choices,
                required=False,
                label=column.header or f"Column {column.index + 1}",
                initial=column.field.value if column.field else "",
            )

    def choices_made(self) -> dict[int, str]:
        return {int(name.removeprefix(COLUMN)): value for name, value in self.cleaned_data.items()}
