"""The pages on which people change how they themselves log in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext

from core.devices import approval_source
from core.exceptions import RefusedError
from core.forms import ConfirmForm, FirstPasswordForm, OwnPasswordForm
from core.models import SignOn, User
from core.second_steps import is_copied, name_of, recovery_codes_left, steps_of
from core.services.accounts import WrongPasswordError, choose_password
from core.sign_on import offered_name
from core.single_keys import key_lines
from core.views.base import FormView, StaffRequest
from core.views.entering import (
    ask_again,
    counted,
    is_confirmed,
    note_confirmed,
    onward_of,
    unlinked_account,
)


class OwnView(FormView, is_base=True):
    """A page that everybody has, whatever their role: it shows and changes nobody but who is logged in."""

    permission_required = "any"
    asks_again = False  # True: only for who gave the password a moment ago

    def has_permission(self) -> bool:
        return self.request.user.is_authenticated

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if self.asks_again and request.user.is_authenticated and not is_confirmed(request):
            return ask_again(request.path if request.method == "GET" else reverse("core:me"))
        return super().dispatch(request, *args, **kwargs)  # type: ignore[return-value]


def takes_passkeys(request: HttpRequest) -> bool:
    """Whether browsers make passkeys for this address: a name with https, or this machine (WebAuthn, level 2)."""
    host = request.get_host().partition(":")[0]
    is_name = any(letter.isalpha() for letter in host) and not host.startswith("[")
    return is_name and (request.is_secure() or host == "localhost" or host.endswith(".localhost"))


class MeView(OwnView):
    """How one logs in, and what may be added."""

    http_method_names = ["get"]
    template_name = "core/me.html"

    def context(self, row: Any, form: forms.BaseForm) -> dict[str, Any]:
        user = self.request.user
        kept = list(steps_of(user))
        return {
            "key_lines": list(key_lines()),
            "steps": [step_line(one) for one in kept],
            "copied": [name_of(one) for one in kept if is_copied(one)],
            "has_app": any(not name_of(one) for one in kept),
            "codes_left": recovery_codes_left(user) if kept else None,
            "is_due": user.second_step_due,
            "takes_passkeys": takes_passkeys(self.request),
            "sign_on_name": offered_name(),
            "sign_on": SignOn.objects.filter(user=user).first(),
        }


def step_line(step: Any) -> dict[str, Any]:
    """A second step as a line of a list, with where to remove it."""
    name = name_of(step)
    text = gettext("Passkey: %(name)s") % {"name": name} if name else gettext("App with codes")
    return {"text": text, "at": step.created_at, "url": reverse("core:remove-step", args=[step.pk])}


class PasswordView(OwnView):
    """A new password of one's own. Whoever was given the first one comes here before anything else."""

    template_name = "core/password.html"

    def form(self, row: Any, data: Any = None) -> forms.BaseForm:
        kind = FirstPasswordForm if self.request.user.password_is_first else OwnPasswordForm
        return kind(data)

    def context(self, row: Any, form: forms.BaseForm) -> dict[str, Any]:
        return {"is_first": self.request.user.password_is_first}

    def save(self, row: Any, form: Any) -> str:
        user = self.request.user
        try:
            with counted(self.request, user):
                fresh = choose_password(
                    user=user,
                    password=form.cleaned_data["password"],
                    old=form.cleaned_data.get("old"),
                    **self.actor_and_time(),
                )
        except WrongPasswordError as error:
            form.add_error("old", str(error))
            raise RefusedError(gettext("Nothing was changed.")) from None
        update_session_auth_hash(self.request, fresh)
        note_confirmed(self.request)
        if unlinked_account(self.request):
            return self.done(gettext("Password chosen."), "core:link-sign-on")
        if user.password_is_first:
            return self.done(gettext("Password chosen. From now on you log in with it."), "desk:today")
        return self.done(gettext("Password changed. You are logged out everywhere else."), "core:me")


def check_own_password(request: StaffRequest, password: str) -> None:
    """Refuse a wrong password of whoever is logged in, counted like one at the log-in."""
    with counted(request, request.user):
        _check(request.user, password)


def confirm_approver(request: StaffRequest, form: forms.Form, approver: User) -> None:
    """Refuse a wrong password of whoever approves; counted against whoever asks, so that the approver can log in."""
    source = approval_source(request, request.user.username, approver.username)
    try:
        with counted(request, approver, source=source):
            _check(approver, form.cleaned_data["password"])
    except WrongPasswordError:
        form.add_error("password", gettext("That is not the password of %(name)s.") % {"name": approver})
        raise RefusedError(gettext("Everything you typed is still here except the password.")) from None


def _check(user: User, password: str) -> None:
    if not user.check_password(password):
        raise WrongPasswordError


class ConfirmView(OwnView):
    """Asks once more for the password, before something that a phone left lying around should not allow."""

    template_name = "core/confirm.html"
    form_class = ConfirmForm

    def save(self, row: Any, form: Any) -> str:
        check_own_password(self.request, form.cleaned_data["password"])
        note_confirmed(self.request)
        return onward_of(self.request, otherwise="core:me")
