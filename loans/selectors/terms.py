"""The words a family signs."""

from __future__ import annotations

from loans.models import AgreementTerms
from loans.rules.terms import DEFAULT_TERMS

# Always the program's own words, so that a page which shows them can name them before any row is written.
FIRST_VERSION = 1


def current_terms() -> AgreementTerms:
    """The newest version; where nobody has written any, the program's own as version 1, which is no row yet."""
    return AgreementTerms.objects.first() or AgreementTerms(text=DEFAULT_TERMS.strip(), version=FIRST_VERSION)


def terms_of_version(version: int) -> AgreementTerms | None:
    """One version as it was read on a page; the program's own count before they are a row."""
    newest = current_terms()
    if newest.version == version:
        return newest
    return AgreementTerms.objects.filter(version=version).first()
