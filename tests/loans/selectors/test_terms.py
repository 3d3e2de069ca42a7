"""Which words are shown and signed."""

from __future__ import annotations

from loans.models import AgreementTerms
from loans.rules.terms import DEFAULT_TERMS
from loans.selectors import current_terms, terms_of_version
from loans.services import write_terms
from tests.factories import NOW


def test_before_anybody_wrote_terms_the_programs_own_are_shown_and_no_row_is_written(db):
    shown = current_terms()
    assert (shown.version, shown.text) == (1, DEFAULT_TERMS.strip())
    assert terms_of_version(1).text == shown.text
    assert terms_of_version(2) is None
    assert not AgreementTerms.objects.exists()


def test_an_older_version_is_found_as_it_was_read(director):
    newer = write_terms(text="Bring it back dry.", actor=director, at=NOW)
    assert current_terms() == newer
    assert terms_of_version(newer.version) == newer
    assert terms_of_version(1).text == DEFAULT_TERMS.strip()
