"""A page that is one form about one row: form, service, redirect; what is refused stays typed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar

from django import forms
from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from core.views import StaffRequest, StaffView
from inventory.exceptions import RefusedError

Words = str | Promise


class OneFormView(StaffView, is_base=True):
    """A page says what it is about (row), its form, what saving does, and how it is headed.

    A page with a template of its own overrides ``context`` instead of the words of the heading.
    """

    template_name = "repairs/one_form.html"
    form_class: type[forms.Form]
    service: ClassVar[Callable[..., Any]]
    subject: ClassVar[str]  # as the service names the row
    title: Words = ""
    lead: Words = ""
    button: Words = _("Save")
    back: Words = ""
    success_message: Words = ""

    def row(self, **lookup: Any) -> Any:
        """Return the row the page is about, or raise 404."""
        raise NotImplementedError

    def form_kwargs(self, row: Any) -> dict[str, Any]:
        """Return what the form is made with besides the data."""
        return {}

    def back_url(self, row: Any) -> str:
        """Return where the page was reached from, and where saving leads unless ``next_url`` says otherwise."""
        raise NotImplementedError

    def next_url(self, row: Any, result: Any) -> str:
        return self.back_url(row)

    def message(self, row: Any, result: Any) -> str:
        """Say what was saved; ``result`` is what the service returned. "" says nothing."""
        return str(self.success_message)

    def over(self, row: Any) -> str:
        return str(row)

    def context(self, row: Any, form: Any) -> dict[str, Any]:
        return {
            "title": self.title, "over": self.over(row), "lead": self.lead, "button": self.button,
            "back_url": self.back_url(row), "back": self.back,
        }  # fmt: skip

    def given(self, form: Any) -> dict[str, Any]:
        """Return what was typed, as the service takes it."""
        return dict(form.cleaned_data)

    def act(self, row: Any, form: Any) -> Any:
        """Call the service and return its result; RefusedError goes onto the form."""
        return self.service(**{self.subject: row}, actor=self.request.user, at=timezone.now(), **self.given(form))

    def save(self, row: Any, form: Any) -> str:
        """Do it, say so, and return the address to go on to."""
        result = self.act(row, form)
        if words := self.message(row, result):
            messages.success(self.request, words)
        return self.next_url(row, result)

    def form(self, row: Any, data: Any = None) -> Any:
        return self.form_class(data, **self.form_kwargs(row))

    def shown(self, row: Any, form: Any, *, status: int = 200) -> HttpResponse:
        context = {"row": row, "form": form, **self.context(row, form)}
        return render(self.request, self.template_name, context, status=status)

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        return self.shown(row, self.form(row))

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        form = self.form(row, request.POST)
        if form.is_valid():
            try:
                return HttpResponseRedirect(self.save(row, form))
            except RefusedError as error:
                form.add_error(None, str(error))
        return self.shown(row, form, status=422)
