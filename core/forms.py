"""Logging in; and what a form offers to choose from, where that depends on who asks and about what."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.db.models import QuerySet

REFUSED = "That name and that password do not go together. In the password, capitals count."


class LogInForm(AuthenticationForm):
    """A name in any case, and its password. One sentence for every refusal, so that no name can be found out by it."""

    error_messages = {"invalid_login": REFUSED, "inactive": REFUSED}


class OnceForm(forms.Form):
    """A form that counts once however often it is posted: its page carries the key that the service asks for.

    A page without one (an old one, or a script) counts each time.
    """

    nonce = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["nonce"].initial = uuid.uuid4

    def clean_nonce(self) -> uuid.UUID:
        typed: uuid.UUID | None = self.cleaned_data["nonce"]
        return typed or uuid.uuid4()


def set_choices(form: forms.BaseForm, field: str, choices: Iterable[Any]) -> None:
    """Let the field choose among these (value, words) pairs; TypeError for a field that offers nothing."""
    chosen = form.fields[field]
    if not isinstance(chosen, forms.ChoiceField):
        raise TypeError(f"{field} of {type(form).__name__} is no ChoiceField")
    chosen.choices = list(choices)


def set_queryset(form: forms.BaseForm, field: str, rows: QuerySet[Any]) -> None:
    """Let the field choose among these rows; TypeError for a field that chooses no row."""
    chosen = form.fields[field]
    if not isinstance(chosen, forms.ModelChoiceField):
        raise TypeError(f"{field} of {type(form).__name__} is no ModelChoiceField")
    chosen.queryset = rows
