"""What happened at a step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

from django import forms

from core.photos import CleanPhoto, PhotoRefusedError, clean_photo
from repairs.models import Outcome

MOST_MINUTES = 480


class KeyForm(forms.Form):
    """Names one step of the plan."""

    step = forms.CharField(max_length=160)


class StepForm(KeyForm):
    """An outcome, with what was used. ``parts`` are (code, name, unit, quantity, amount) of what the step usually takes."""

    nonce = forms.UUIDField()
    outcome = forms.ChoiceField(choices=Outcome.choices, error_messages={"required": "Say how it ended."})
    minutes = forms.DecimalField(
        required=False,
        label="Your minutes",
        min_value=0,
        max_value=MOST_MINUTES,
        max_digits=6,
        decimal_places=1,
        help_text="Empty: by the clock, if it was started.",
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "1", "min": "0"}),
    )
    note = forms.CharField(
        required=False,
        label="Note",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"max_length": "The note is longer than 4,000 characters. Shorten it; nothing else is lost."},
    )
    photo = forms.FileField(
        required=False,
        label="Photo",
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
        error_messages={"empty": "The photo is empty. Choose it again."},
    )

    def __init__(self, *args: Any, parts: Sequence[Any] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.parts = tuple(parts)
        for part in self.parts:
            self.fields[f"use_{part.code}"] = forms.DecimalField(
                required=False,
                label=part.name,
                min_value=0,
                max_value=999,
                max_digits=6,
                decimal_places=3,
                initial=part.quantity.normalize(),
                help_text=part.unit,
                widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any", "min": "0"}),
            )

    def part_fields(self) -> Iterator[forms.BoundField]:
        return (self[f"use_{part.code}"] for part in self.parts)

    def clean_photo(self) -> CleanPhoto | None:
        sent = self.cleaned_data.get("photo")
        if not sent:
            return None
        try:
            return clean_photo(sent)
        except PhotoRefusedError as error:
            raise forms.ValidationError(str(error)) from None

    def parts_used(self) -> list[dict[str, Any]] | None:
        """As entered, priced by the quantity; None where nothing was asked, so that the usual is noted."""
        if not self.parts or not any(f"use_{part.code}" in self.data for part in self.parts):
            return None
        used = []
        for part in (one for one in self.parts if f"use_{one.code}" in self.data):
            quantity = self.cleaned_data.get(f"use_{part.code}") or Decimal(0)
            if quantity > 0:
                each = part.amount / part.quantity if part.quantity else part.amount
                amount = (each * quantity).quantize(Decimal("0.01"))
                used.append({"code": part.code, "quantity": str(quantity.normalize()), "amount": str(amount)})
        return used

    @property
    def sentence(self) -> str:
        """The first complaint, fit to be shown."""
        return next((str(error) for errors in self.errors.values() for error in errors), "")
