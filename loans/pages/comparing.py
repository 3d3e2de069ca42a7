"""What changed while an instrument was out, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load.language import catalog_word
from inventory.catalog.schema import Cause, Kind, Severity
from loans.models import Loan
from loans.rules.compare import Change, Compared
from loans.selectors.comparing import finding_in_words

CHANGE_WORDS: dict[Change, Promise] = {
    Change.NEW: _("New"),
    Change.WORSE: _("Worse"),
    Change.SAME: _("Same"),
    Change.BETTER: _("Better"),
    Change.GONE: _("Gone"),
    Change.NOT_LOOKED_AT: _("Not checked"),
}
COUNT_WORDS: dict[Change, Promise] = {
    Change.NEW: _("%(count)d new"),
    Change.WORSE: _("%(count)d worse"),
    Change.SAME: _("%(count)d the same"),
    Change.BETTER: _("%(count)d better"),
    Change.GONE: _("%(count)d gone"),
    Change.NOT_LOOKED_AT: _("%(count)d not checked"),
}
CAUSE_WORDS: dict[Cause, Promise] = {
    Cause.WEAR: _("usually wear"),
    Cause.DAMAGE: _("usually damage"),
    Cause.EITHER: _("wear or damage"),
}


def comparison_of(kind: Kind, rows: Sequence[Compared]) -> dict[str, Any]:
    """Return the comparison of hand-out and return as a page shows it."""
    return {"rows": tuple(_row_in_words(kind, row) for row in rows), "sentence": change_summary(rows)}


def change_summary(rows: Sequence[Compared]) -> str:
    """Sum the comparison up in a line: "2 new, 1 worse, 3 the same."."""
    counts = {change: sum(1 for row in rows if row.change is change) for change in Change}
    if not any(count for change, count in counts.items() if change is not Change.SAME):
        return gettext("Same as at hand-out.")
    return ", ".join(str(COUNT_WORDS[change] % {"count": count}) for change, count in counts.items() if count) + "."


def _row_in_words(kind: Kind, row: Compared) -> dict[str, Any]:
    """Where, what, severity then and now. ``change`` is the code, ``words`` its word."""
    where, fault = finding_in_words(kind, part=row.part, place=row.place, fault=row.fault)
    return {
        "where": where,
        "fault": fault,
        "before": _severity(row.before),
        "after": _severity(row.after),
        "change": row.change.value,
        "words": str(CHANGE_WORDS[row.change]),
        "cause": str(CAUSE_WORDS[row.cause]) if row.cause else "",
    }


def _severity(severity: Severity | None) -> str:
    return gettext(severity.value) if severity else "—"


def accessories_compared(loan: Loan) -> list[dict[str, Any]]:
    """Return what went out and what came back, by name; ``back`` is None while the loan is open."""
    back = {row["code"]: row["count"] for row in loan.accessories_back}
    is_back = loan.returned_at is not None
    return [
        {
            "name": catalog_word(row["name"]),
            "code": row["code"],
            "count": row["count"],
            "back": back.get(row["code"], 0) if is_back else None,
            "is_short": is_back and back.get(row["code"], 0) < row["count"],
        }
        for row in loan.accessories
    ]
