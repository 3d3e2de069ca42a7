"""Where people type freely about loans."""

from __future__ import annotations

from core.free_text import FreeText
from loans.models import LedgerEntry, Loan

FREE_TEXT = (
    FreeText(Loan, ("limits_reason", "limits"), "school_id", "instrument_id"),
    FreeText(LedgerEntry, ("note",), "school_id", "loan__instrument_id"),
)
