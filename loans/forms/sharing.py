"""Who uses a shared instrument, class by class."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext

from core.forms import set_choices
from loans.selectors.sharing import PeriodLine


class SharingForm(forms.Form):
    """A choice for each class in which the kind is played."""

    def __init__(self, *args: Any, lines: Sequence[PeriodLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for line in lines:
            name = f"period-{line.period.pk}"
            seats = [(str(seat.pk), seat.student.sort_name) for seat in line.seats]
            self.fields[name] = forms.ChoiceField(
                required=False, label=line.period.name, initial=str(line.used_by or "")
            )
            set_choices(self, name, [("", gettext("Nobody")), *seats])

    def seats(self) -> dict[int, int | None]:
        """Return by class whose it is there."""
        return {
            int(name.removeprefix("period-")): int(value) if value else None
            for name, value in self.cleaned_data.items()
        }
