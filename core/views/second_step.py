"""The second step of the log-in, and the pages to add and remove one's own."""

from __future__ import annotations

import logging
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views import View

from core import second_steps as steps
from core.devices import source_of
from core.exceptions import RefusedError
from core.forms import AddCodesForm, AddPasskeyForm, CodeForm, PasskeyForm
from core.services.second_steps import (
    CopiedPasskeyError,
    add_code_app,
    add_passkey,
    remove_step,
    renew_recovery_codes,
    use_code,
    use_passkey,
)
from core.services.tries import take_try
from core.views.base import StaffRequest, public
from core.views.entering import count_wrong_step, finish, keep_to_show, pending, show_once
from core.views.own import OwnView

logger = logging.getLogger(__name__)
SECRET, SHOWN = "new_code_secret", "recovery codes"


@public
class SecondStepView(View):
    """Between the right password and the first page: a code, a passkey or a recovery code."""

    def get(self, request: HttpRequest) -> HttpResponse:
        kept = pending(request)
        if kept is None:
            return render(request, "core/second_step.html", {"is_over": True})
        return self.shown(kept["user"], CodeForm())

    def post(self, request: HttpRequest) -> HttpResponse:
        kept = pending(request)
        if kept is None:
            return self.begin_again()
        user, is_passkey = kept["user"], "credential" in request.POST
        form: forms.Form = PasskeyForm(request.POST) if is_passkey else CodeForm(request.POST)
        if form.is_valid():
            take_try(source=source_of(request, user.username), at=timezone.now())
            refused = gettext("That did not match. A code works once, and only while it is shown.")
            try:
                if self.is_right(user, **form.cleaned_data):
                    return finish(request, user, onward=kept["onward"])
            except CopiedPasskeyError as error:
                refused = str(error)
                logger.warning("a passkey of person %d answered out of order: it may have been copied", user.pk)
            count_wrong_step(request, user)
            if pending(request) is None:
                return self.begin_again()
            form.add_error(None, refused)
        return self.shown(user, form, status=422)

    def is_right(self, user: Any, *, code: str = "", credential: dict[str, Any] | None = None) -> bool:
        at = timezone.now()
        if not code:
            return use_passkey(user=user, credential=credential or {}, actor=None, at=at)
        which = use_code(user=user, code=code, actor=None, at=at)
        if which == steps.RECOVERY:
            left = steps.recovery_codes_left(user)
            messages.warning(
                self.request,
                gettext("That recovery code is used up; %(left)d are left. See Your log-in.") % {"left": left},
            )
        return bool(which)

    def begin_again(self) -> HttpResponse:
        messages.warning(self.request, gettext("Log in once more: the second step took too long or did not match."))
        return redirect("core:log-in")

    def shown(self, user: Any, form: forms.BaseForm, *, status: int = 200) -> HttpResponse:
        kinds = set(steps.steps_of(user).values_list("type", flat=True))
        refused = form.non_field_errors() if isinstance(form, PasskeyForm) else []
        context = {
            "form": CodeForm() if isinstance(form, PasskeyForm) else form,
            "refused": refused,
            "has_app": steps.CODES in kinds,
            "question": steps.passkey_question(user) if steps.PASSKEY in kinds else None,
        }
        return render(self.request, "core/second_step.html", context, status=status)


def in_fours(text: str) -> str:
    """Return the text in groups of four, to be read and typed."""
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


class AddStepView(OwnView, is_base=True):
    asks_again = True

    def added(self, codes: list[str], words: str) -> str:
        if not codes:
            return self.done(words, "core:me")
        keep_to_show(self.request, SHOWN, codes)
        return self.done(words, "core:recovery-codes")


class AddCodesView(AddStepView):
    """An app that shows codes: the secret is kept in the session until a code proves that the app has it."""

    template_name = "core/add_codes.html"
    form_class = AddCodesForm
    refused_field = "code"

    def secret(self) -> str:
        if SECRET not in self.request.session:
            self.request.session[SECRET] = steps.new_secret()
        return str(self.request.session[SECRET])

    def context(self, row: Any, form: forms.BaseForm) -> dict[str, Any]:
        secret = self.secret()
        address = steps.app_address(self.request.user, secret)
        return {"address": address, "picture": steps.app_picture(address), "secret": in_fours(secret)}

    def save(self, row: Any, form: Any) -> str:
        code = form.cleaned_data["code"]
        codes = add_code_app(user=self.request.user, secret=self.secret(), code=code, **self.actor_and_time())
        self.request.session.pop(SECRET, None)
        return self.added(codes, gettext("The app is set up. From now on the log-in asks for its code."))


class AddPasskeyView(AddStepView):
    template_name = "core/add_passkey.html"
    form_class = AddPasskeyForm

    def context(self, row: Any, form: forms.BaseForm) -> dict[str, Any]:
        return {"options": steps.passkey_options(self.request.user)}

    def save(self, row: Any, form: Any) -> str:
        codes = add_passkey(user=self.request.user, **form.cleaned_data, **self.actor_and_time())
        return self.added(codes, gettext("Passkey added. From now on the log-in asks for it."))


class RemoveStepView(OwnView):
    http_method_names = ["post"]
    asks_again = True

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        try:
            remove_step(user=request.user, pk=lookup["pk"], **self.actor_and_time())
        except RefusedError as error:
            messages.error(request, str(error))
        else:
            messages.success(request, gettext("Removed."))
        return redirect("core:me")


class RecoveryCodesView(OwnView):
    """New recovery codes, shown once."""

    template_name = "core/recovery_codes.html"
    asks_again = True

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        codes = show_once(request, SHOWN)
        if not codes:
            return redirect("core:me")
        return render(request, self.template_name, {"codes": [in_fours(code) for code in codes]})

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        try:
            keep_to_show(request, SHOWN, renew_recovery_codes(user=request.user, **self.actor_and_time()))
        except RefusedError as error:
            messages.error(request, str(error))
            return redirect("core:me")
        return redirect("core:recovery-codes")
