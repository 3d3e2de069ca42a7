"""A family's account in words, and the ledger as rows for a bookkeeper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from core.sheets import OutValue
from loans.models import LedgerEntry, Posting
from loans.models.ledger import ACCOUNT_LABELS
from loans.rules.due import school_year_words
from loans.rules.ledger import Account, Sort, in_dollars
from loans.selectors.ledger import CONFIRMED, WAIVED_THROUGH

POSTING_HEADER = (
    pgettext_lazy("ledger", "Entry"), _("Date"), _("School"), _("What"), _("Account"), _("Debit"), _("Credit"),
    _("Student"), _("Instrument"),
    _("Paid by"), _("Note"), _("Entered by"), _("Approved by"), _("Approved with password"),
    _("Reverses entry"), _("Reversed by entry"),
)  # fmt: skip
RECEIPTS = frozenset({Sort.PAYMENT, Sort.REFUND})


def account_lines(entries: Iterable[LedgerEntry]) -> list[dict[str, Any]]:
    """Return a line for each entry, oldest first, with what was owed after it. ``entries`` are those of ``entries_of``."""
    owed, lines = Decimal(0), []
    for entry in entries:
        moved = in_dollars(entry.moved or 0)  # type: ignore[attr-defined]  # annotated
        owed += moved
        is_reversal = entry.sort == Sort.REVERSAL
        lines.append(
            {
                "entry": entry,
                "words": entry_words(entry),
                "note": entry.note,
                "stands": _waived_words(entry),
                "is_confirmed": CONFIRMED in entry.reckoning,
                "instrument": entry.loan.instrument if entry.loan else None,
                "moved": moved,
                "owed": owed,
                "is_reversed": entry.reversal is not None,
                "may_reverse": not is_reversal and entry.reversal is None,
                "has_receipt": entry.sort in RECEIPTS,
                "is_of_loss": entry.sort in {Sort.LOSS, Sort.FOUND} and entry.loan_id is not None,
            }
        )
    return lines


def _waived_words(entry: LedgerEntry) -> str:
    year = entry.reckoning.get(WAIVED_THROUGH)
    if not year:
        return ""
    words = (
        gettext("also the yearly fee through %(year)s") if entry.amount else gettext("the yearly fee through %(year)s")
    )
    return words % {"year": school_year_words(year)}


def entry_words(entry: LedgerEntry) -> str:
    """Return what an entry is: "Payment, check"."""
    if entry.reverses is not None:
        return gettext("Reversed: %(what)s") % {"what": entry.reverses.get_sort_display()}
    words = str(entry.get_sort_display())
    return f"{words}, {entry.paid_by.lower()}" if entry.paid_by else words


def receipt_number(entry: LedgerEntry) -> str:
    """Return the number that a receipt has, the same each time it is printed."""
    return f"{entry.school.code}-{entry.pk:06d}"


def posting_rows(postings: Iterable[Posting], *, lending: frozenset[int]) -> Iterator[tuple[OutValue, ...]]:
    """Return a row for each posting; families that refused directory information are named at ``lending`` schools only."""
    for posting in postings:
        entry = posting.entry
        is_named = not entry.student.is_private or entry.school_id in lending
        yield (
            entry.pk,
            entry.on,
            entry.school.name,
            str(entry.get_sort_display()),
            str(ACCOUNT_LABELS[Account(posting.account)]),
            posting.amount if posting.cents > 0 else None,
            -posting.amount if posting.cents < 0 else None,
            (entry.student.sort_name or str(entry.student)) if is_named else gettext("a student"),
            entry.loan.instrument.asset_number if entry.loan else "",
            entry.paid_by,
            entry.note if is_named else "",
            str(entry.actor),
            str(entry.approved_by) if entry.approved_by else "",
            gettext("yes") if CONFIRMED in entry.reckoning else "",
            entry.reverses_id,
            entry.reversal.pk if entry.reversal else None,
        )
