"""Rows of loans, one import path."""

from loans.models.assigning import Assignment, AssignmentLine, wish_key
from loans.models.grades import GradeRoll, GradeRollQuerySet
from loans.models.holds import LegalHold, LegalHoldQuerySet
from loans.models.ledger import LedgerEntry, LedgerEntryQuerySet, Posting
from loans.models.lending import (
    OPEN,
    SALT,
    Addendum,
    AddendumQuerySet,
    Agreement,
    AgreementQuerySet,
    AgreementTerms,
    Loan,
    LoanQuerySet,
    facts_sha256,
    open_loans_by,
    terms_sha256,
)
from loans.models.losses import Loss, LossQuerySet
from loans.models.notices import Notice, NoticeQuerySet
from loans.models.people import Guardian, GuardianQuerySet, Student, StudentQuerySet, named_by
from loans.models.roster import RosterChoice, RosterChoiceQuerySet
from loans.models.seats import ClassPeriod, ClassPeriodQuerySet, Ensemble, Seat, SeatQuerySet, SharedUse
from loans.models.signing import PaperToSign, PaperToSignQuerySet, SigningLink, SigningLinkQuerySet
