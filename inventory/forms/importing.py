"""Sending a list, and saying what its columns hold."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext, gettext_lazy
from django.utils.translation import gettext_lazy as _

from core.cells import cell_words, from_json
from core.forms import OnceForm, set_queryset
from core.sheets import LARGEST_FILE
from inventory.columns import IN_LISTS
from inventory.models import ImportRow, School
from inventory.rules.intake.mapping import ColumnMapping
from inventory.rules.intake.parse.dates import DateOrder

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
        label=_("School for rows without one"),
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


KIND, ORDER = "kind-", "order-"


class AnswersForm(forms.Form):
    """Which kind each loose word means, and which comes first in the dates of a column."""

    def __init__(
        self, *args: Any, kinds: Mapping[str, Sequence[tuple[str, str]]], orders: Mapping[str, tuple[str, str]],
        **kwargs: Any,
    ) -> None:  # fmt: skip
        """``kinds`` is word to the kinds it may mean, likeliest first; ``orders`` is column to heading and a date."""
        super().__init__(*args, **kwargs)
        for word, choices in kinds.items():
            self.fields[f"{KIND}{word}"] = forms.ChoiceField(
                required=False,
                label=gettext("“%(word)s” means") % {"word": word},
                choices=[("", _("Choose the kind")), *choices],
            )
        for index, (heading, text) in orders.items():
            self.fields[f"{ORDER}{index}"] = forms.ChoiceField(
                required=False,
                label=gettext("“%(date)s” in “%(heading)s” is written as") % {"date": text, "heading": heading},
                choices=[
                    ("", _("Choose the order")),
                    (DateOrder.MONTH_DAY.value, _("month, day, year")),
                    (DateOrder.DAY_MONTH.value, _("day, month, year")),
                ],
            )

    def kinds(self) -> dict[str, str]:
        return self._answers(KIND)

    def orders(self) -> dict[int, str]:
        return {int(index): order for index, order in self._answers(ORDER).items()}

    def _answers(self, start: str) -> dict[str, str]:
        return {
            name.removeprefix(start): answer
            for name, answer in self.cleaned_data.items()
            if name.startswith(start) and answer
        }


CELL = re.compile(r"cell-(\d{1,7})-(\d{1,3})")


def mended_cells(data: Mapping[str, str], *, rows: QuerySet[ImportRow]) -> dict[int, dict[int, str]]:
    """Return what was typed over cells of these rows, by row and column; what is as it was is left out."""
    typed: dict[int, dict[int, str]] = {}
    for name, text in data.items():
        if found := CELL.fullmatch(name):
            typed.setdefault(int(found[1]), {})[int(found[2])] = text.strip()
    changed = {}
    for number, kept in rows.filter(number__in=list(typed)).values_list("number", "cells"):
        was = dict(enumerate(map(cell_words, from_json(kept))))
        if new := {index: text for index, text in typed[number].items() if text != was.get(index, "")}:
            changed[number] = new
    return changed
