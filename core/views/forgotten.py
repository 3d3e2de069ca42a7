"""A password that was forgotten: a link by e-mail where mail is set up, and the page a link leads to."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views import View

from core.devices import keep_device
from core.exceptions import RefusedError
from core.forms import FirstPasswordForm, ForgottenForm
from core.responses import home_url
from core.services.accounts import live_link, use_link
from core.tasks import queue_link
from core.views.base import public


@public
class ForgottenView(View):
    """Says the same whether the name exists or not, and as quickly."""

    def get(self, request: HttpRequest) -> HttpResponse:
        if "sent" in request.GET:
            return render(request, "core/forgotten.html", {"is_sent": True})
        return self.shown(ForgottenForm())

    def post(self, request: HttpRequest) -> HttpResponse:
        form = ForgottenForm(request.POST)
        if not settings.MAIL_IS_SET or not form.is_valid():
            return self.shown(form, status=422)
        queue_link(username=form.cleaned_data["username"], home=home_url(request), at=timezone.now())
        return redirect(f"{reverse('core:forgotten')}?sent")

    def shown(self, form: forms.BaseForm, *, status: int = 200) -> HttpResponse:
        context = {"form": form, "has_mail": settings.MAIL_IS_SET}
        return render(self.request, "core/forgotten.html", context, status=status)


@public
class LinkView(View):
    """Where a one-time link leads. Looking at it does not use it up: a mail filter looks too."""

    def get(self, request: HttpRequest, token: str) -> HttpResponse:
        if live_link(token, at=timezone.now()) is None:
            return self.gone()
        return self.shown(FirstPasswordForm())

    def post(self, request: HttpRequest, token: str) -> HttpResponse:
        at = timezone.now()
        if live_link(token, at=at) is None:
            return self.gone()
        form = FirstPasswordForm(request.POST)
        if form.is_valid():
            try:
                person = use_link(token=token, password=form.cleaned_data["password"], actor=None, at=at)
            except RefusedError as error:
                form.add_error("password", str(error))
            else:
                messages.success(request, gettext("Password set. Log in with it."))
                response = redirect("core:log-in")
                keep_device(request, response, person)  # too many tries of others keep nobody out who has a link
                return response
        return self.shown(form, status=422)

    def shown(self, form: forms.BaseForm, **options: Any) -> HttpResponse:
        return render(self.request, "core/link.html", {"form": form}, **options)

    def gone(self) -> HttpResponse:
        return render(self.request, "core/link.html", {"is_gone": True}, status=410)
