"""Reads of loans: who has what, what is late, what goes on the paper, what changed while it was out."""

from loans.selectors.borrowing import loans_of, open_loan_of, schools_with_names, students_of
from loans.selectors.comparing import compare_inspections, facts_by_inspection, facts_of
from loans.selectors.naming import NamedIn, Place, PlacesToRedact, named_in, places_to_redact, redaction_of
from loans.selectors.papers import (
    HandOutFacts,
    expired_papers,
    hand_out_facts,
    papers_to_keep,
    years_papers_are_kept,
)
from loans.selectors.terms import current_terms, terms_of_version

__all__ = [
    "HandOutFacts",
    "NamedIn",
    "Place",
    "PlacesToRedact",
    "compare_inspections",
    "current_terms",
    "expired_papers",
    "facts_by_inspection",
    "facts_of",
    "hand_out_facts",
    "loans_of",
    "named_in",
    "open_loan_of",
    "papers_to_keep",
    "places_to_redact",
    "redaction_of",
    "schools_with_names",
    "students_of",
    "terms_of_version",
    "years_papers_are_kept",
]
