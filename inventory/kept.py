"""What the log keeps of instruments, of gifts and of how instruments left, with from and to."""

from __future__ import annotations

from core.revisions import Kept
from inventory.columns import TYPED, VALUES
from inventory.models import Disposal, Donation, Instrument

DAYS = ("received_on", "thanked_on", "tax_form_signed_on")
OF_DISPOSALS = (
    "way", "on", "proceeds_amount", "value_amount", "market_amount", "federal_percent", "threshold_amount",
    "share_amount", "approved_by", "is_confirmed", "agency_notified_on",
)  # fmt: skip
TYPED_OF_DISPOSALS = (
    "because", "recipient", "findings", "police_agency", "police_number", "insurer", "claim_number",
)  # fmt: skip

KEPT = (
    Kept(
        Instrument,
        values=VALUES,
        texts=TYPED,
        begins={"registered"},
        corrects={"corrected"},
        place=lambda row: (row.thread, row.school_id),
    ),
    Kept(
        Donation,
        values={name: name for name in DAYS},
        texts=("donor_name", "donor_contact", "history"),
        begins={"gift_recorded"},
        corrects={"gift_corrected"},
        place=lambda row: (row.instrument.thread, row.instrument.school_id),
    ),
    Kept(
        Disposal,
        values={name: name for name in OF_DISPOSALS},
        texts=TYPED_OF_DISPOSALS,
        begins={"left_fleet"},
        corrects={"disposal_corrected"},
        place=lambda row: (row.instrument.thread, row.instrument.school_id),
    ),
)
