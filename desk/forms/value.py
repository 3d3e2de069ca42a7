"""Of which day a value is, and of which fiscal year."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import set_choices, set_queryset
from inventory.models import School
from inventory.selectors.past import FIRST_DAY, LAST_DAY, AsOf
from loans.forms.mistakes import DAY


def check_day(day: date) -> None:
    if not FIRST_DAY <= day <= LAST_DAY:
        raise forms.ValidationError(gettext("Enter a date from 1900 to 2100."))


class ValueForm(forms.Form):
    """The day that is asked about, and by when it has to have been known; a bad date is reported beside the field."""

    on = forms.DateField(required=False, label=_("As of"), widget=DAY, validators=[check_day])
    known_on = forms.DateField(
        required=False,
        label=_("As known on"),
        help_text=_("Leave blank to use what the records say now."),
        widget=DAY,
    )

    def __init__(self, data: Any, *, today: date) -> None:
        super().__init__({"on": today.isoformat(), **data} if data else {"on": today.isoformat()})
        self.today = today

    def clean_on(self) -> date:
        return self.cleaned_data["on"] or self.today

    def clean_known_on(self) -> date | None:
        day: date | None = self.cleaned_data["known_on"]
        if day is not None and not FIRST_DAY <= day <= self.today:
            raise forms.ValidationError(gettext("Enter a date no later than today."))
        return day

    def as_of(self) -> AsOf:
        """Return what was asked for; today where it cannot be answered."""
        return AsOf(**self.cleaned_data) if self.is_valid() else AsOf(self.today)


class ConditionForm(forms.Form):
    """One of several schools; where there is one, nothing is asked. An unknown one counts as not given."""

    school = forms.ModelChoiceField(
        required=False, label=_("School"), queryset=School.objects.none(), empty_label=_("All schools"),
        to_field_name="code",
    )  # fmt: skip

    def __init__(self, data: Any, *, schools: QuerySet[School]) -> None:
        super().__init__(data)
        if schools.count() > 1:
            set_queryset(self, "school", schools)
        else:
            del self.fields["school"]

    @property
    def chosen(self) -> School | None:
        return self.cleaned_data.get("school") if self.is_valid() else None


class FiscalYearForm(forms.Form):
    """An unknown year counts as not given, so that an old link still shows a page."""

    year = forms.ChoiceField(required=False, label=_("Fiscal year"))

    def __init__(self, data: Any, *, years: list[tuple[str, str]]) -> None:
        super().__init__({"year": years[0][0], **data} if data else {"year": years[0][0]})
        set_choices(self, "year", years)

    @property
    def first(self) -> date:
        """The first day of the year chosen."""
        chosen = self.cleaned_data.get("year") if self.is_valid() else ""
        return date.fromisoformat(chosen or self.fields["year"].choices[0][0])  # type: ignore[attr-defined]
