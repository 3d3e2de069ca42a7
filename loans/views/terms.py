"""The terms that families sign."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from core.views import FormView, StaffRequest, StaffView
from loans.forms import TermsForm
from loans.models import AgreementTerms
from loans.selectors.agreements import current_terms
from loans.services import write_terms

CHANGE = "loans.change_terms"


class TermsView(StaffView):
    """The terms that families sign now."""

    permission_required = "loans.view_terms"

    def get(self, request: StaffRequest) -> HttpResponse:
        language = language_of(request)
        context = {
            "newest": current_terms(language),
            "languages": AgreementTerms.Language.choices,
            "may_change": request.user.has_perm(CHANGE),
        }
        return render(request, "loans/terms.html", context)


class ChangeTermsView(FormView):
    """Edit the terms; each save makes a new version."""

    permission_required = CHANGE
    template_name = "loans/terms_form.html"
    row_name = "newest"
    refused_field = "seen"

    def row(self, **lookup: Any) -> AgreementTerms:
        return current_terms(language_of(self.request))

    def form(self, row: AgreementTerms, data: Any = None) -> TermsForm:
        return TermsForm(data, newest=row)

    def save(self, row: AgreementTerms, form: TermsForm) -> str:
        saved = write_terms(language=row.language, **self.actor_and_time(), **form.cleaned_data)
        text = _("Saved as version %(version)d. New agreements will use it.") % {"version": saved.version}
        return f"{self.done(text, 'loans:terms')}?language={saved.language}"


def language_of(request: StaffRequest) -> str:
    """Return the language that page and form are about: English unless the address says otherwise."""
    code = request.GET.get("language", "")
    return code if code in AgreementTerms.Language.values else AgreementTerms.Language.ENGLISH
