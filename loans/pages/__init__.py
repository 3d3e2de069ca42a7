"""Loans as pages and papers show them: rows and rules' answers turned into words. Nothing here queries or writes."""

from loans.pages.agreement import AgreementPaper, agreement_paper
from loans.pages.comparing import (
    Comparison,
    accessories_compared,
    comparison_of,
    findings_in_words,
)

__all__ = [
    "AgreementPaper",
    "Comparison",
    "accessories_compared",
    "agreement_paper",
    "comparison_of",
    "findings_in_words",
]
