"""The terms a family signs."""

from __future__ import annotations

from loans.models import AgreementTerms
from loans.rules.terms import DEFAULT_TERMS

# Always the default terms, so that a page can name the version before there is a row.
FIRST_VERSION = 1


def current_terms() -> AgreementTerms:
    """Return the newest version; if there is none, the default terms as an unsaved version 1."""
    return AgreementTerms.objects.first() or AgreementTerms(text=DEFAULT_TERMS.strip(), version=FIRST_VERSION)


def terms_of_version(version: int) -> AgreementTerms | None:
    """Return one version, or the unsaved default terms, or None."""
    newest = current_terms()
    if newest.version == version:
        return newest
    return AgreementTerms.objects.filter(version=version).first()
