"""Forms of the log-in, forms that count once, photos, and choices set per request."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth.forms import AuthenticationForm
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from core.devices import source_of
from core.keys import key_of
from core.passwords import LONGEST
from core.photos import CleanPhoto, PhotoRefusedError, clean_photo
from core.second_steps import credential_of
from core.services.tries import give_back, take_try

LONGEST_NAME = 80  # letters of a user name, as its column holds
GONE_SINCE = _(
    "What you chose is no longer offered: somebody has taken or changed it since you opened the page. Choose again; "
    "the rest is kept."
)
NEW_PASSWORD = forms.PasswordInput(attrs={"autocomplete": "new-password"})
OLD_PASSWORD = forms.PasswordInput(attrs={"autocomplete": "current-password"})
REFUSED = _("Wrong user name or password. Passwords are case-sensitive.")


class LogInForm(AuthenticationForm):
    """User names in any case. Every refusal says the same, so that nobody can find out which names exist."""

    request: HttpRequest
    error_messages = {"invalid_login": REFUSED, "inactive": REFUSED}

    def __init__(self, *args: Any, at: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.at = at
        self.fields["username"].label = _("User name")

    def clean_username(self) -> str:
        """Refuse a name that nobody can have, before anything is looked up or counted."""
        name: str = self.cleaned_data["username"]
        if len(name) > LONGEST_NAME:
            raise forms.ValidationError(REFUSED, code="invalid_login")
        return name

    def clean(self) -> dict[str, Any]:
        """Look at the password; PausedError if there were too many wrong ones."""
        name = self.cleaned_data.get("username")
        if not name or not self.cleaned_data.get("password"):
            return super().clean()
        taken = take_try(source=source_of(self.request, name), at=self.at)
        data = super().clean()
        give_back(taken=taken)
        return data


class FirstPasswordForm(forms.Form):
    """A new password, typed twice."""

    password = forms.CharField(
        min_length=12,
        max_length=LONGEST,
        strip=False,
        label=_("New password"),
        help_text=_("At least 12 characters; several words with spaces are good. Any letters and symbols."),
        error_messages={"min_length": _("This password is too short. It needs at least 12 characters.")},
        widget=NEW_PASSWORD,
    )
    again = forms.CharField(
        max_length=LONGEST,
        strip=False,
        label=_("New password again"),
        widget=NEW_PASSWORD,
    )

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("password") and data.get("again") and data["password"] != data["again"]:
            self.add_error("again", _("The passwords do not match."))
        return data


class OwnPasswordForm(FirstPasswordForm):
    """The same, after the password one has."""

    field_order = ("old", "password", "again")

    old = forms.CharField(max_length=LONGEST, strip=False, label=_("Current password"), widget=OLD_PASSWORD)


class ConfirmForm(forms.Form):
    password = forms.CharField(max_length=LONGEST, strip=False, label=_("Your password"), widget=OLD_PASSWORD)


class ForgottenForm(forms.Form):
    username = forms.CharField(
        max_length=LONGEST_NAME,
        label=_("User name"),
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
    )


class PasskeyField(forms.CharField):
    """What the browser answered about a passkey, as JSON; None where there is no passkey in it."""

    widget = forms.HiddenInput

    def clean(self, value: Any) -> dict[str, Any] | None:
        return credential_of(super().clean(value) or "")


class CodeForm(forms.Form):
    """The second step, typed."""

    code = forms.CharField(
        max_length=40,
        label=_("Code"),
        help_text=_("From the app, or one of your recovery codes."),
        error_messages={"required": _("Enter the code.")},
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )


class PasskeyForm(forms.Form):
    """What a passkey answered."""

    credential = PasskeyField(max_length=20_000, required=False)


class AddCodesForm(forms.Form):
    code = forms.CharField(
        max_length=20,
        label=_("Code that the app shows now"),
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )


class AddPasskeyForm(PasskeyForm):
    field_order = ("name", "credential")

    name = forms.CharField(
        max_length=40,
        initial=_("My phone"),
        label=_("What is it kept on?"),
        help_text=_("Such as My phone or Band room laptop, so that you know which is which."),
    )

    def clean_credential(self) -> dict[str, Any]:
        read: dict[str, Any] | None = self.cleaned_data["credential"]
        if read is None:
            raise forms.ValidationError(_("The browser made no passkey. Try again, or use an app with codes."))
        return read


class LinkSignOnForm(ConfirmForm):
    """The account becomes a way in, so the password is asked for with it."""

    field_order = ("is_mine", "password")

    is_mine = forms.BooleanField(
        label=_("Yes, this is my own account"),
        error_messages={"required": _("Check this box if the account is yours, or go on without linking it.")},
    )


class OnceForm(forms.Form):
    """A form that counts once however often it is posted: the page carries the key that the service checks.

    A post without a key (from an old page or a script) counts every time.
    """

    nonce = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["nonce"].initial = uuid.uuid4

    def clean_nonce(self) -> uuid.UUID:
        typed: uuid.UUID | None = self.cleaned_data["nonce"]
        return typed or uuid.uuid4()


class PhotoField(forms.FileField):
    """A photo, cleaned as it comes in; the content decides what is one."""

    widget = forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"})

    def clean(self, data: Any, initial: Any = None) -> CleanPhoto | None:
        sent = super().clean(data, initial)
        try:
            return clean_photo(sent, max_bytes=settings.PHOTO_MAX_BYTES) if sent else None
        except PhotoRefusedError as error:
            raise forms.ValidationError(str(error)) from None


class RowsField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # the class takes none at run time
    """Some of the rows offered; a key that no column holds is one that is not there."""

    def clean(self, value: Any) -> Any:
        for key in value if isinstance(value, list | tuple) else ():
            if key_of(str(key)) is None:
                raise forms.ValidationError(
                    self.error_messages["invalid_choice"], code="invalid_choice", params={"value": key}
                )
        return super().clean(value)


class OneSentence:
    """Beside a form: what it refuses first, as one sentence."""

    @property
    def sentence(self: Any) -> str:
        return next(iter(errors_of(self)), "")


def errors_of(form: forms.BaseForm) -> list[str]:
    """Return what a form refuses, in the order of its fields."""
    return [str(error) for errors in form.errors.values() for error in errors]


def set_choices(form: forms.BaseForm, field: str, choices: Iterable[Any]) -> None:
    """Set a field's choices as (value, label) pairs; TypeError if it is not a ChoiceField."""
    chosen = form.fields[field]
    if not isinstance(chosen, forms.ChoiceField):
        raise TypeError(f"{field} of {type(form).__name__} is not a ChoiceField")
    chosen.choices = list(choices)
    _say_gone(chosen)


def set_queryset(form: forms.BaseForm, field: str, rows: QuerySet[Any]) -> None:
    """Set the rows a field offers; TypeError if it is not a ModelChoiceField."""
    chosen = form.fields[field]
    if not isinstance(chosen, forms.ModelChoiceField):
        raise TypeError(f"{field} of {type(form).__name__} is not a ModelChoiceField")
    chosen.queryset = rows
    _say_gone(chosen)


def _say_gone(field: forms.ChoiceField) -> None:
    """Words for a choice that was offered and is there no more, unless the field has its own."""
    plain = [
        one.default_error_messages.get("invalid_choice") for one in type(field).__mro__ if issubclass(one, forms.Field)
    ]
    if field.error_messages["invalid_choice"] in plain:
        field.error_messages["invalid_choice"] = GONE_SINCE
