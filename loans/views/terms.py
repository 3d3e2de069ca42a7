"""The words that families sign."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from core.views import StaffRequest, StaffView
from inventory.exceptions import RefusedError
from loans.forms import TermsForm
from loans.services import terms_in_force, write_terms


class TermsView(StaffView):
    """Read and change them; each saving is a new version."""

    permission_required = "loans.change_terms"

    def get(self, request: StaffRequest) -> HttpResponse:
        newest = terms_in_force(at=timezone.now())
        return render(request, "loans/terms.html", {"form": TermsForm(newest=newest), "newest": newest})

    def post(self, request: StaffRequest) -> HttpResponse:
        now = timezone.now()
        newest = terms_in_force(at=now)
        form = TermsForm(request.POST, newest=newest)
        if form.is_valid():
            try:
                saved = write_terms(text=form.cleaned_data["text"], actor=request.user, at=now)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(request, f"Saved as version {saved.version}. The next paper carries it.")
                return redirect("loans:terms")
        return render(request, "loans/terms.html", {"form": form, "newest": newest}, status=422)
