"""What a play test is told: the result, each note, and what was played on."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from core.forms import OnceForm
from inventory.models import PlayTest

MOST_CENTS = 600.0
MOST_TRIES = 99
UNTRIED = "untried"
STATES = (("", "speaks"), ("weak", "weak"), ("failed", "failed"), (UNTRIED, "not played"))


class PlayTestForm(OnceForm):
    """``notes`` are the written names that may be ticked; each has a state and, measured or typed, its cents.

    ``listed`` are those that the page shows: they count as played unless marked otherwise.
    """

    result = forms.ChoiceField(
        label="Result",
        choices=PlayTest.Result.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say pass, limits or fail."},
    )
    limits_text = forms.CharField(label="The limits, in words for the player", max_length=400, required=False)
    tester_plays = forms.CharField(label="Your main instrument", max_length=60, required=False)
    played_with = forms.CharField(label="Mouthpiece and reed", max_length=120, required=False)
    room_degrees = forms.DecimalField(
        label="Room temperature", required=False, max_digits=4, decimal_places=1, min_value=-20, max_value=130
    )
    room_unit = forms.ChoiceField(label="Unit", choices=[("F", "°F"), ("C", "°C")], required=False)
    tuning_cents = forms.DecimalField(
        label="Tuning note, cents",
        required=False,
        max_digits=5,
        decimal_places=1,
        min_value=-300,
        max_value=300,
        help_text="How far from A = 440 with the main slide, headjoint or barrel at its best. Sharp is positive.",
    )
    is_second_opinion = forms.BooleanField(
        label="This is a second opinion by a stronger player: is it the horn or the child?", required=False
    )
    note = forms.CharField(label="Note", max_length=4000, required=False, widget=forms.Textarea(attrs={"rows": 3}))
    measures = forms.CharField(required=False, max_length=60_000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, notes: Sequence[str], listed: Sequence[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.notes = list(notes)
        self.listed = frozenset(listed)
        for name in self.notes:
            self.fields[f"state-{name}"] = forms.ChoiceField(choices=STATES, required=False)
            self.fields[f"cents-{name}"] = forms.FloatField(required=False, min_value=-MOST_CENTS, max_value=MOST_CENTS)

    def clean_measures(self) -> list[dict[str, Any]]:
        """What the microphone heard; a note that is not on the list or no number is refused."""
        try:
            rows = json.loads(self.cleaned_data["measures"] or "[]")
        except (json.JSONDecodeError, RecursionError):
            raise forms.ValidationError("What was measured could not be read. Type the cents by hand.") from None
        if not isinstance(rows, list) or len(rows) > len(self.notes):
            raise forms.ValidationError("What was measured does not fit these notes.")
        return [self._measure(row) for row in rows]

    def _measure(self, row: Any) -> dict[str, Any]:
        bad = forms.ValidationError("What was measured does not fit these notes.")
        if not isinstance(row, dict) or row.get("written") not in self.notes:
            raise bad
        spoke = bool(row.get("spoke", True))
        numbers: dict[str, float | None] = {}
        for name in ("cents", "spread"):
            value = row.get(name)
            if value is None:
                numbers[name] = None
            elif (
                isinstance(value, bool)
                or not isinstance(value, int | float)
                or not math.isfinite(value)
                or abs(value) > MOST_CENTS
            ):
                raise bad
            else:
                numbers[name] = round(float(value), 1)
        tries = row.get("tries", 1)
        if isinstance(tries, bool) or not isinstance(tries, int) or not 0 <= tries <= MOST_TRIES:
            raise bad
        return {"written": row["written"], **numbers, "tries": tries, "spoke": spoke}

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        failed = [name for name in self.notes if data.get(f"state-{name}") == "failed"]
        weak = [name for name in self.notes if data.get(f"state-{name}") == "weak"]
        heard = {row["written"]: row for row in data.get("measures") or []}
        for name in self.notes:
            typed = data.get(f"cents-{name}")
            row = heard.get(name)
            if typed is not None and (row is None or row["cents"] is None or abs(row["cents"] - typed) > 0.5):
                heard[name] = {"written": name, "cents": round(typed, 1), "spread": 0.0, "tries": 1, "spoke": True}
            if name in failed:
                heard[name] = {
                    **heard.get(name, {"written": name, "cents": None, "spread": None, "tries": 1}),
                    "spoke": False,
                }
        data["failed_notes"], data["weak_notes"] = failed, weak
        data["tried_notes"] = [
            name
            for name in self.notes
            if name in heard
            or data.get(f"state-{name}") in {"weak", "failed"}
            or (name in self.listed and data.get(f"state-{name}") != UNTRIED)
        ]
        data["measures"] = [heard[name] for name in self.notes if name in heard]
        if data.get("result") == PlayTest.Result.LIMITS and not data.get("limits_text"):
            self.add_error("limits_text", "Say in words what the limits are.")
        if data.get("result") == PlayTest.Result.FAIL and not failed and not data.get("note"):
            self.add_error("note", "Mark the notes that failed, or say here what went wrong.")
        if data.get("result") == PlayTest.Result.PASS and failed:
            self.add_error("result", "Notes are marked as failed. Say limits or fail, or mark them as speaking.")
        data["room_celsius"] = self._celsius(data)
        return data

    @staticmethod
    def _celsius(data: dict[str, Any]) -> Decimal | None:
        degrees = data.get("room_degrees")
        if degrees is None:
            return None
        if data.get("room_unit") == "C":
            return Decimal(degrees)
        return ((Decimal(degrees) - 32) * 5 / 9).quantize(Decimal("0.1"))

    @property
    def facts(self) -> dict[str, Any]:
        """What the service takes."""
        names = (
            "result", "limits_text", "failed_notes", "weak_notes", "tried_notes", "measures", "tester_plays", "played_with",
            "is_second_opinion", "room_celsius", "tuning_cents", "note", "nonce",
        )  # fmt: skip
        return {name: self.cleaned_data[name] for name in names}
