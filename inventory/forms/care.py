"""Cleaning between players, where it is, answers to reports."""

from __future__ import annotations

from typing import Any

from django import forms

from core.forms import set_choices
from inventory.catalog.schema import Kind
from inventory.models import Whereabouts


class HygieneForm(forms.Form):
    """One tick for each thing, so that nothing is forgotten."""

    done = forms.MultipleChoiceField(
        label="Done",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick what is done."},
    )

    def __init__(self, *args: Any, kind: Kind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = list(kind.between_players())
        self.to_do = words or [("all", "Cleaned and dry")]
        set_choices(self, "done", self.to_do)

    def clean_done(self) -> list[str]:
        done: list[str] = self.cleaned_data["done"]
        missing = [words for code, words in self.to_do if code not in done]
        if missing:
            raise forms.ValidationError("It stays in until everything is ticked.")
        return done


class WhereaboutsForm(forms.Form):
    to = forms.ChoiceField(
        choices=[(Whereabouts.NOT_FOUND.value, "Not found"), (Whereabouts.IN_STORE.value, "Found again, in store")]
    )


class AnswerForm(forms.Form):
    answer = forms.CharField(
        label="What was found, and what was done",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3, "maxlength": 400}),
        error_messages={"required": "Say in a few words what you found."},
    )
