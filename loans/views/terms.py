"""The terms that families sign."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from core.views import StaffRequest, StaffView
from inventory.exceptions import RefusedError
from loans.forms import TermsForm
from loans.models import AgreementTerms
from loans.selectors import current_terms
from loans.services import write_terms

CHANGE = "loans.change_terms"


class TermsView(StaffView):
    """The terms that families sign now."""

    permission_required = "loans.view_terms"

    def get(self, request: StaffRequest) -> HttpResponse:
        context = {"newest": current_terms(), "may_change": request.user.has_perm(CHANGE)}
        return render(request, "loans/terms.html", context)


class ChangeTermsView(StaffView):
    """Edit the terms; each save makes a new version."""

    permission_required = CHANGE

    def get(self, request: StaffRequest) -> HttpResponse:
        newest = current_terms()
        return self.page(request, newest, TermsForm(newest=newest))

    def post(self, request: StaffRequest) -> HttpResponse:
        newest = current_terms()
        form = TermsForm(request.POST, newest=newest)
        if form.is_valid():
            try:
                saved = write_terms(actor=request.user, at=timezone.now(), **form.cleaned_data)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(
                    request, _("Saved as version %(version)d. New agreements will use it.") % {"version": saved.version}
                )
                return redirect("loans:terms")
        return self.page(request, newest, form, status=422)

    def page(self, request: StaffRequest, newest: AgreementTerms, form: TermsForm, status: int = 200) -> HttpResponse:
        return render(request, "loans/terms_form.html", {"form": form, "newest": newest}, status=status)
