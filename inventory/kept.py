"""What the log keeps of instruments and of gifts, with from and to."""

from __future__ import annotations

from core.revisions import Kept
from inventory.columns import TYPED, VALUES
from inventory.models import Donation, Instrument

DAYS = ("received_on", "thanked_on", "tax_form_signed_on")

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
)
