"""A page that is one form about one row: form, service, redirect; what is refused stays typed."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Model
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from core.views import StaffRequest, StaffView
from inventory.exceptions import RefusedError


class OneFormView(StaffView, is_base=True):
    """A page says what it is about (row), its form, what it does (save) and how it is headed (heading)."""

    button: str | Promise = _("Save")

    def row(self, **lookup: Any) -> Model:
        """Return the row the page is about, or raise 404."""
        raise NotImplementedError

    def form(self, row: Any, data: Any = None) -> forms.Form:
        raise NotImplementedError

    def save(self, row: Any, form: forms.Form) -> str:
        """Call the service and return the address to go on to; RefusedError goes onto the form."""
        raise NotImplementedError

    def heading(self, row: Any) -> dict[str, Any]:
        """Return title, over, lead, back_url and back, as the template takes them."""
        raise NotImplementedError

    def shown(self, row: Any, form: forms.Form, *, status: int = 200) -> HttpResponse:
        context = {"row": row, "form": form, "button": self.button, **self.heading(row)}
        return render(self.request, "repairs/one_form.html", context, status=status)

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

    def actor_and_time(self) -> dict[str, Any]:
        """Return who acts and when, as every service asks."""
        return {"actor": self.request.user, "at": timezone.now()}
