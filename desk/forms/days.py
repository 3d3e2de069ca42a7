"""A bench's day, and whose calendar."""

from __future__ import annotations

from datetime import time
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.utils.translation import gettext_lazy as _

from core.forms import set_queryset
from inventory.models import School
from repairs.models import Bench, BenchQuerySet


class BenchDayForm(forms.Form):
    """Which bench, from when, for how long. Missing or invalid values fall back to the usual ones."""

    USUAL_HOURS = 4.0

    bench = forms.ModelChoiceField(
        required=False,
        label=_("Bench"),
        queryset=Bench.objects.none(),
        empty_label=_("All benches"),
        to_field_name="code",
    )
    start = forms.TimeField(
        required=False, label=_("From"), widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    hours = forms.FloatField(
        required=False,
        label=_("Bench hours"),
        min_value=0.25,
        max_value=12,
        widget=forms.NumberInput(attrs={"step": "0.25", "inputmode": "decimal"}),
    )

    def __init__(self, *args: Any, benches: BenchQuerySet, start: time, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"start": start, "hours": 4})
        super().__init__(*args, **kwargs)
        self.usual_start = start
        if benches.count() < 2:
            del self.fields["bench"]
        else:
            set_queryset(self, "bench", benches)

    def _value(self, name: str) -> Any:
        if not self.is_bound:
            return None
        self.is_valid()
        return self.cleaned_data.get(name)

    @property
    def chosen_bench(self) -> Bench | None:
        chosen: Bench | None = self._value("bench")
        return chosen

    @property
    def start_time(self) -> time:
        return self._value("start") or self.usual_start

    @property
    def hours_long(self) -> float:
        return self._value("hours") or self.USUAL_HOURS

    @property
    def query(self) -> str:
        """Return the query string of the printed sheet, so that it holds what the page shows."""
        return urlencode({"start": f"{self.start_time:%H:%M}"} | self._span)

    @property
    def query_later(self) -> str:
        """Return the query string of the same plan, begun at whatever time it is then."""
        return urlencode(self._span)

    @property
    def _span(self) -> dict[str, str]:
        bench = {"bench": self.chosen_bench.code} if self.chosen_bench else {}
        return {"hours": f"{self.hours_long:g}"} | bench


class CalendarForm(forms.Form):
    """Of which school a calendar is."""

    school = forms.ModelChoiceField(School.objects.none(), label=_("School"), empty_label=None)
