"""Rows of loans, one import path."""

from loans.models.ledger import LedgerEntry, LedgerEntryQuerySet, Posting
from loans.models.lending import (
    SALT,
    Agreement,
    AgreementQuerySet,
    AgreementTerms,
    Loan,
    LoanQuerySet,
    facts_sha256,
    terms_sha256,
)
from loans.models.people import Student, StudentQuerySet
from loans.models.seats import ClassPeriod, Ensemble, Seat, SeatQuerySet
