"""Single sign-on: out to the provider, back from it, and the one time an account is linked."""

from __future__ import annotations

import logging
import secrets
from dataclasses import asdict
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views import View

from core.forms import LinkSignOnForm
from core.responses import home_url
from core.services.sign_on import link_sign_on, person_signed_on, unlink_sign_on
from core.sign_on import Question, SignOnError, account_of, address_to_ask
from core.views.base import StaffRequest, public
from core.views.entering import UNLINKED, enter, is_recent, keep_session, now_s, onward_of, unlinked_account
from core.views.own import OwnView, check_own_password

logger = logging.getLogger(__name__)
SESSION_KEY = "sign_on_asked"
GOOD_FOR_S = 10 * 60


@public
class SignOnView(View):
    """Out to the provider, and back: one address, which the provider knows."""

    def get(self, request: HttpRequest) -> HttpResponse:
        if not settings.SIGN_ON_ISSUER:
            return render(request, "core/sign_on.html", {})
        try:
            if "state" in request.GET or "error" in request.GET:
                return self.answered(request)
            return self.asking(request)
        except SignOnError as error:
            logger.warning("sign-on: %s", error)
            return self.failed()

    def asking(self, request: HttpRequest) -> HttpResponse:
        question = Question.new()
        address = address_to_ask(question, back=self.back(request))
        request.session[SESSION_KEY] = asdict(question) | {
            "at": now_s(),
            "onward": onward_of(request, otherwise=settings.LOGIN_REDIRECT_URL),
        }
        return redirect(address)

    def back(self, request: HttpRequest) -> str:
        return home_url(request) + reverse("core:sign-on")

    def answered(self, request: HttpRequest) -> HttpResponse:
        kept = request.session.pop(SESSION_KEY, None)  # used up, whatever comes of it
        if kept is None:
            raise SignOnError("an answer that nobody asked for, or a second one")
        if not secrets.compare_digest(request.GET.get("state", "").encode(), kept["state"].encode()):
            raise SignOnError("an answer to another question")
        if not is_recent(kept["at"], seconds=GOOD_FOR_S):
            raise SignOnError("an answer that took too long")
        if "code" not in request.GET:
            raise SignOnError("the provider refused")
        question = Question(kept["state"], kept["nonce"], kept["verifier"])
        account = account_of(request.GET["code"], question, back=self.back(request))
        person = person_signed_on(issuer=account.issuer, subject=account.subject)
        if person is not None:
            return enter(request, person, onward=kept["onward"])
        request.session[UNLINKED] = asdict(account) | {"at": now_s()}
        if request.user.is_authenticated:
            return redirect("core:link-sign-on")
        messages.warning(
            request,
            gettext(
                "That account is not linked to anybody here. If you work here, log in once with your user name and "
                "password; then you can link it."
            ),
        )
        return redirect("core:log-in")

    def failed(self) -> HttpResponse:
        messages.error(self.request, gettext("The sign-on did not work. Try again, or log in with your password."))
        return redirect("core:log-in")


class LinkSignOnView(OwnView):
    """Asks whether the account that signed on a moment ago is one's own, and for the password."""

    template_name = "core/link_sign_on.html"
    form_class = LinkSignOnForm

    def context(self, row: Any, form: forms.BaseForm) -> dict[str, Any]:
        return {"account": unlinked_account(self.request)}

    def save(self, row: Any, form: Any) -> str:
        account = unlinked_account(self.request)
        if account is None:
            return self.done(gettext("Nothing was linked: that took too long. Sign on once more."), "core:me")
        check_own_password(self.request, form.cleaned_data["password"])
        link_sign_on(
            user=self.request.user, issuer=account["issuer"], subject=account["subject"], **self.actor_and_time()
        )
        keep_session(self.request)
        del self.request.session[UNLINKED]
        words = gettext("Linked. From now on you can log in with that account. You are logged out everywhere else.")
        return self.done(words, "core:me")


class UnlinkSignOnView(OwnView):
    http_method_names = ["post"]
    asks_again = True

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        unlink_sign_on(user=request.user, **self.actor_and_time())
        keep_session(request)
        words = gettext("The account is no longer linked. You log in with your password, and are logged out elsewhere.")
        messages.success(request, words)
        return redirect("core:me")
