"""What the database refuses of instruments: one that is with a student stays at its school.

The loan belongs to that school until the instrument is back (``stays_at_its_school`` says so to people). The trigger
reads whereabouts, which the row itself holds, so nothing gets past it between two transactions; ``verify`` compares
whereabouts with open loans. Read as it was before the statement: one that changes both is refused too.

A migration that alters the table of instruments ends in ``migrations.RunPython(SCHOOL_GUARD.put_up,
SCHOOL_GUARD.put_up)``: SQLite may have made a new table, without triggers.
"""

from __future__ import annotations

from core.triggers import Guard, Refusal

SCHOOL_GUARD = Guard(
    about="the school of what is lent is",
    function="refuse_for_school",
    refusals={
        "lent_stays_at_school": Refusal(
            "inventory_instrument",
            "UPDATE",
            "OLD.whereabouts = 'with_student' AND NEW.school_id <> OLD.school_id",
            "an instrument that is with a student stays at its school",
        ),
    },
)
