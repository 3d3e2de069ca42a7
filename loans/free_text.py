"""Where people type freely about loans."""

from __future__ import annotations

from core.free_text import FreeText
from loans.models import Agreement, ClassPeriod, Ensemble, LedgerEntry, LegalHold, Loan, Loss, PaperToSign, RosterChoice

TYPED = ("maker", "model", "serial", "remarks")  # of what is agreed about an instrument

FREE_TEXT = (
    FreeText(LegalHold, ("reason",), "student__school_id"),
    FreeText(Loan, ("limits_reason", "limits"), "school_id", "instrument_id"),
    FreeText(Agreement, ("facts",), "loan__school_id", "loan__instrument_id", within=TYPED),
    FreeText(PaperToSign, ("facts",), "student__school_id", "instrument_id", within=TYPED),
    FreeText(
        Loss,
        ("circumstances", "police_agency", "police_number", "insurer", "claim_number"),
        "loan__school_id",
        "loan__instrument_id",
    ),
    FreeText(LedgerEntry, ("note",), "school_id", "loan__instrument_id"),
    FreeText(Ensemble, ("name",), "school_id", is_short=True),
    FreeText(ClassPeriod, ("name",), "school_id", is_short=True),
    FreeText(RosterChoice, ("title",), "school_id", is_short=True),
)
