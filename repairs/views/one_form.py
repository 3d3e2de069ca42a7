"""A page that is one form about one row: form, service, redirect; what is refused stays typed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar

from django.contrib import messages
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from core.views import FormView

Words = str | Promise


class OneFormView(FormView, is_base=True):
    """A page says what it is about (row), its form, what saving does, and how it is headed.

    A page with a template of its own overrides ``context`` instead of the words of the heading.
    """

    template_name = "repairs/one_form.html"
    service: ClassVar[Callable[..., Any]]
    subject: ClassVar[str]  # as the service names the row
    title: Words = ""
    lead: Words = ""
    button: Words = _("Save")
    back: Words = ""
    success_message: Words = ""

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
        return self.service(**{self.subject: row}, **self.actor_and_time(), **self.given(form))

    def save(self, row: Any, form: Any) -> str:
        """Do it, say so, and return the address to go on to."""
        result = self.act(row, form)
        if words := self.message(row, result):
            messages.success(self.request, words)
        return self.next_url(row, result)

    def form(self, row: Any, data: Any = None) -> Any:
        return self.form_class(data, **self.form_kwargs(row))
