"""Reads of loans: who has what, what is late, what the paper says, what changed while it was away."""

from loans.selectors.borrowing import (
    history_of,
    open_loan_of,
    schools_with_names,
    students_of,
)
from loans.selectors.comparing import (
    ComparedRow,
    Comparison,
    accessories_compared,
    comparison,
    facts_by_inspection,
    facts_in_words,
    finding_in_words,
    findings_in_words,
)
from loans.selectors.naming import (
    NamedIn,
    Place,
    PlacesToRedact,
    named_in,
    places_to_redact,
    redaction_of,
)
from loans.selectors.papers import (
    AgreementPaper,
    agreement_paper,
    papers_past_their_time,
    papers_within_their_time,
    years_of_papers,
)
from loans.selectors.terms import (
    current_terms,
    terms_of_version,
)

__all__ = [
    "AgreementPaper",
    "ComparedRow",
    "Comparison",
    "NamedIn",
    "Place",
    "PlacesToRedact",
    "accessories_compared",
    "agreement_paper",
    "comparison",
    "current_terms",
    "facts_by_inspection",
    "facts_in_words",
    "finding_in_words",
    "findings_in_words",
    "history_of",
    "named_in",
    "open_loan_of",
    "papers_past_their_time",
    "papers_within_their_time",
    "places_to_redact",
    "redaction_of",
    "schools_with_names",
    "students_of",
    "terms_of_version",
    "years_of_papers",
]
