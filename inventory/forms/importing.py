"""Sending a list, and saying what its columns hold."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_queryset
from core.sheets import LARGEST_FILE
from inventory.columns import IN_LISTS
from inventory.models import School
from inventory.rules.intake.mapping import ColumnMapping

COLUMN = "column-"  # before a column's place in the name of its field


class SendListForm(OnceForm):
    file = forms.FileField(
        label=_("Spreadsheet"),
        help_text=_("An .xlsx or .csv file, just as it is."),
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,.txt,.tsv,text/csv"}),
        error_messages={
            "required": _("Choose the file."),
            "missing": _("Choose the file."),
            "empty": _("The file is empty."),
            "invalid": _("The file did not arrive. Choose it again."),
        },
    )
    school = forms.ModelChoiceField(
        queryset=School.objects.none(),
        label=_("School for rows that name none"),
        empty_label=None,
        error_messages={
            "invalid_choice": _("You may not import for this school."),
            "required": _("Choose the school."),
        },
    )
    worksheet = forms.CharField(
        required=False,
        max_length=60,
        label=_("Worksheet"),
        help_text=_("Leave empty to use the first one with a table."),
    )

    def __init__(self, *args: Any, schools: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "school", schools)

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size and file.size > LARGEST_FILE:
            too_large = gettext("The file is larger than %(size)d MB. Split it and send the parts one by one.")
            raise forms.ValidationError(too_large % {"size": LARGEST_FILE // 2**20})
        return file


class ColumnsForm(forms.Form):
    """One choice for each column of the list."""

    def __init__(self, *args: Any, guess: ColumnMapping, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.guess = guess
        of_instrument, not_kept = (
            [
                (key, gettext_lazy(column.label))
                for key, column in IN_LISTS.items()
                if bool(column.stays_out) is stays_out
            ]
            for stays_out in (False, True)
        )
        choices = [("", _("Leave it out")), (_("Instrument"), of_instrument), (_("Not imported"), not_kept)]
        for column in guess.columns:
            self.fields[f"{COLUMN}{column.index}"] = forms.ChoiceField(
                choices=choices,
                required=False,
                label=column.header or gettext("Column %(number)d, without a heading") % {"number": column.index + 1},
                initial=column.field or "",
            )

    def choices_made(self) -> dict[int, str]:
        return {int(name.removeprefix(COLUMN)): value for name, value in self.cleaned_data.items()}
