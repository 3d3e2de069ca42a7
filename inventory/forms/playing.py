"""A play test: the result, each note, and what was played on."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from decimal import Decimal
from typing import Any, TypedDict

from django import forms
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm
from inventory.models import PlayTest
from inventory.rules.playing.results import contradiction

MOST_CENTS = 600.0
MOST_TRIES = 99
SAME_CENTS = 0.5  # cents typed so near to what was measured are what was measured
WEAK, FAILED, UNTRIED = "weak", "failed", "untried"
STATES = (("", _("speaks")), (WEAK, _("weak")), (FAILED, _("failed")), (UNTRIED, _("not played")))


class Measure(TypedDict):
    """One note as heard by the microphone, or as its cents were typed."""

    written: str
    cents: float | None
    spread: float | None  # between the tries, in cents
    tries: int
    spoke: bool


def measure_of(row: Any, *, notes: Sequence[str]) -> Measure:
    """Return a row that a browser sent; ValueError for another note, or for what is no number within its limits."""
    if not isinstance(row, dict) or row.get("written") not in notes:
        raise ValueError
    tries = row.get("tries", 1)
    if type(tries) is not int or not 0 <= tries <= MOST_TRIES:
        raise ValueError
    return Measure(
        written=row["written"],
        cents=_cents(row.get("cents")),
        spread=_cents(row.get("spread")),
        tries=tries,
        spoke=bool(row.get("spoke", True)),
    )


def _cents(value: Any) -> float | None:
    if value is None:
        return None
    if type(value) not in {int, float} or not math.isfinite(value) or abs(value) > MOST_CENTS:
        raise ValueError
    return round(float(value), 1)


class PlayTestForm(OnceForm):
    """``notes`` are the written names that may be ticked; each has a state and, measured or typed, its cents.

    ``listed`` are those that the page shows: they count as played unless marked otherwise.
    """

    result = forms.ChoiceField(
        label=_("Result"),
        choices=PlayTest.Result.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Say pass, limits or fail.")},
    )
    limits_text = forms.CharField(label=_("The limits, in words for the player"), max_length=400, required=False)
    tester_plays = forms.CharField(label=_("Your main instrument"), max_length=60, required=False)
    played_with = forms.CharField(label=_("Mouthpiece and reed"), max_length=120, required=False)
    room_degrees = forms.DecimalField(
        label=_("Room temperature"), required=False, max_digits=4, decimal_places=1, min_value=-20, max_value=130
    )
    room_unit = forms.ChoiceField(label=_("Unit"), choices=[("F", "°F"), ("C", "°C")], required=False)
    tuning_cents = forms.DecimalField(
        label=_("Tuning note, cents"),
        required=False,
        max_digits=5,
        decimal_places=1,
        min_value=-300,
        max_value=300,
        help_text=_("How far from A = 440 with the main slide, headjoint or barrel at its best. Sharp is positive."),
    )
    is_tuned_first = forms.BooleanField(label=_("Tuned to A = 440 before playing"), required=False)
    slide_mm = forms.DecimalField(
        label=_("Main slide, headjoint or barrel: millimeters out"),
        required=False,
        max_digits=4,
        decimal_places=1,
        min_value=0,
        max_value=200,
    )
    is_second_opinion = forms.BooleanField(
        label=_("This is a second opinion by a stronger player: is it the instrument or the player?"), required=False
    )
    note = forms.CharField(label=_("Note"), max_length=4000, required=False, widget=forms.Textarea(attrs={"rows": 3}))
    measures = forms.CharField(required=False, max_length=60_000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, notes: Sequence[str], listed: Sequence[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.notes = list(notes)
        self.listed = frozenset(listed)
        for name in self.notes:
            self.fields[f"state-{name}"] = forms.ChoiceField(choices=STATES, required=False)
            self.fields[f"cents-{name}"] = forms.FloatField(required=False, min_value=-MOST_CENTS, max_value=MOST_CENTS)

    def clean_measures(self) -> dict[str, Measure]:
        """What the microphone heard, by note; a note that is not on the list or no number is refused."""
        try:
            rows = json.loads(self.cleaned_data["measures"] or "[]")
        except (ValueError, RecursionError):
            raise forms.ValidationError(_("What was measured could not be read. Type the cents by hand.")) from None
        try:
            if not isinstance(rows, list) or len(rows) > len(self.notes):
                raise ValueError
            return {measure["written"]: measure for measure in (measure_of(row, notes=self.notes) for row in rows)}
        except ValueError:
            raise forms.ValidationError(_("What was measured does not fit these notes.")) from None

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        states = {name: data.get(f"state-{name}") or "" for name in self.notes}
        measured = data.get("measures") or {}
        known = {name: one for name in self.notes if (one := self._measure(name, measured=measured.get(name)))}
        played = {
            name
            for name, state in states.items()
            if name in known or state in {WEAK, FAILED} or (name in self.listed and state != UNTRIED)
        }
        data["failed_notes"] = [name for name, state in states.items() if state == FAILED]
        data["weak_notes"] = [name for name, state in states.items() if state == WEAK]
        data["tried_notes"] = [name for name in self.notes if name in played]
        data["measures"] = list(known.values())
        data["room_celsius"] = self._celsius(data)
        if self.listed and not data["tried_notes"]:
            self.add_error(None, _("No note is marked as played. Play some of them, or mark those that do not speak."))
        wrong = contradiction(
            data.get("result", ""), failed=data["failed_notes"], weak=data["weak_notes"],
            limits_text=data.get("limits_text", ""), note=data.get("note", ""),
        )  # fmt: skip
        if wrong:
            self.add_error(*wrong)
        return data

    def _measure(self, name: str, *, measured: Measure | None) -> Measure | None:
        """Return what is known of one note: as measured unless other cents were typed, silent if it failed."""
        typed = self.cleaned_data.get(f"cents-{name}")
        known = None if measured is None else measured["cents"]
        if typed is not None and (known is None or abs(known - typed) > SAME_CENTS):
            measured = Measure(written=name, cents=round(typed, 1), spread=0.0, tries=1, spoke=True)
        if self.cleaned_data.get(f"state-{name}") == FAILED:
            measured = measured or Measure(written=name, cents=None, spread=None, tries=1, spoke=False)
            measured = Measure(**{**measured, "spoke": False})
        return measured

    @staticmethod
    def _celsius(data: dict[str, Any]) -> Decimal | None:
        degrees = data.get("room_degrees")
        if degrees is None or data.get("room_unit") == "C":
            return degrees
        return ((Decimal(degrees) - 32) * 5 / 9).quantize(Decimal("0.1"))

    @property
    def facts(self) -> dict[str, Any]:
        """What the service takes."""
        names = (
            "result", "limits_text", "failed_notes", "weak_notes", "tried_notes", "measures", "tester_plays", "played_with",
            "is_second_opinion", "room_celsius", "tuning_cents", "is_tuned_first", "slide_mm", "note", "nonce",
        )  # fmt: skip
        return {name: self.cleaned_data[name] for name in names}
