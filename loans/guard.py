"""What the database refuses of the ledger: rows are added, and nothing in them changes but a note that is erased.

A migration that alters one of these tables ends in ``migrations.RunPython(LEDGER_GUARD.put_up, LEDGER_GUARD.put_up)``:
SQLite may have made a new table, without triggers.
"""

from __future__ import annotations

from core.triggers import Guard, Refusal

ENTRIES, POSTINGS = "loans_ledgerentry", "loans_posting"
ADDED_ONLY = "the ledger is only added to"
KEPT = (
    "id, school_id, student_id, loan_id, sort, amount, on, reverses_id, reckoning, approved_by_id, actor_id, at, nonce"
)

LEDGER_GUARD = Guard(
    about="the ledger is",
    function="refuse_for_ledger",
    refusals={
        "ledger_entry_kept": Refusal(
            ENTRIES, "UPDATE OF " + ", ".join(f'"{name}"' for name in KEPT.split(", ")), "", ADDED_ONLY
        ),
        "ledger_entry_stays": Refusal(ENTRIES, "DELETE", "", ADDED_ONLY),
        "posting_kept": Refusal(POSTINGS, "UPDATE", "", ADDED_ONLY),
        "posting_stays": Refusal(POSTINGS, "DELETE", "", ADDED_ONLY),
    },
    emptied={"ledger_not_emptied": (ENTRIES, ADDED_ONLY), "postings_not_emptied": (POSTINGS, ADDED_ONLY)},
)
