"""What is typed on the pages that join the rooms."""

from __future__ import annotations

from datetime import time
from typing import Any
from urllib.parse import urlencode

from django import forms

from core.forms import OnceForm, set_queryset
from repairs.models import Bench, BenchQuerySet


class FindForm(forms.Form):
    text = forms.CharField(
        label="Number or serial",
        max_length=300,
        error_messages={"required": "Type a number first, or scan the tag."},
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "inputmode": "text", "enterkeyhint": "go"}
        ),
    )


class ReportForm(OnceForm):
    text = forms.CharField(
        label="What is wrong?",
        max_length=2000,
        error_messages={"required": "Say in a few words what is wrong."},
        help_text="Please do not write anybody's name.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    # Filled by machines only; people do not see it.
    website = forms.CharField(required=False, widget=forms.TextInput(attrs={"tabindex": "-1", "autocomplete": "off"}))


class BenchDayForm(forms.Form):
    """Which bench, from when, how long. What was not sent, or makes no sense, counts as usual."""

    USUAL_HOURS = 4.0

    bench = forms.ModelChoiceField(
        required=False, label="Bench", queryset=Bench.objects.none(), empty_label="All benches", to_field_name="code"
    )
    start = forms.TimeField(
        required=False, label="From", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    hours = forms.FloatField(
        required=False,
        label="Bench hours",
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

    def _said(self, name: str) -> Any:
        if not self.is_bound:
            return None
        self.is_valid()
        return self.cleaned_data.get(name)

    @property
    def chosen_bench(self) -> Bench | None:
        chosen: Bench | None = self._said("bench")
        return chosen

    @property
    def start_time(self) -> time:
        return self._said("start") or self.usual_start

    @property
    def hours_long(self) -> float:
        return self._said("hours") or self.USUAL_HOURS

    @property
    def query(self) -> str:
        """What the printed sheet is asked for with, so that it holds what the page shows."""
        said = {"start": f"{self.start_time:%H:%M}", "hours": f"{self.hours_long:g}"}
        return urlencode(said | ({"bench": self.chosen_bench.code} if self.chosen_bench else {}))
