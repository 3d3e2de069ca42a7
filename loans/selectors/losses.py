"""Lost and stolen instruments: their cases, and which students they keep from being erased."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from decimal import Decimal

from loans.models import LedgerEntry, Loan, Loss
from loans.rules.ledger import Sort
from loans.rules.losses import Kind, Next, next_of


def keeps_open_losses(students: Collection[int], _today: date) -> dict[int, str]:
    """Of these students, those with an open case (``loans.selectors.leavers``)."""
    rows = Loss.objects.open().filter(loan__student__in=students).order_by()
    return dict.fromkeys(rows.values_list("loan__student", flat=True), "a case of loss is open")


def last_charge_for_loss(loan: Loan) -> LedgerEntry | None:
    """Return the last charge for its loss that stands, taken off since or not, or None."""
    return LedgerEntry.objects.standing().filter(loan=loan, sort=Sort.LOSS).order_by("pk").last()


def charge_for_loss_of(loan: Loan) -> LedgerEntry | None:
    """Return the charge for its loss that stands, or None: one it was found after was for a loss that is over."""
    charge = last_charge_for_loss(loan)
    return None if charge is None or taken_off_since(charge) else charge


def taken_off_since(charge: LedgerEntry) -> LedgerEntry | None:
    """Return what was taken off this charge once the instrument was found, or None."""
    found = LedgerEntry.objects.standing().filter(loan=charge.loan_id, sort=Sort.FOUND, pk__gt=charge.pk)
    return found.order_by("pk").last()


def charged_for(loan: Loan) -> Decimal:
    """Return what is charged for damage or loss of this loan, less what was taken off once it was found."""
    rows = LedgerEntry.objects.standing().filter(loan=loan, sort__in=(Sort.DAMAGE, Sort.LOSS, Sort.FOUND))
    return sum((-one.amount if one.sort == Sort.FOUND else one.amount for one in rows), Decimal(0))


def charged_loans(loans: Collection[int]) -> set[int]:
    """Return those loans that have a charge as ``charge_for_loss_of`` returns it. One query."""
    rows = LedgerEntry.objects.standing().filter(loan__in=loans, sort__in=(Sort.LOSS, Sort.FOUND))
    last = dict(rows.order_by("pk").values_list("loan", "sort"))
    return {loan for loan, sort in last.items() if sort == Sort.LOSS}


def days_done(loss: Loss) -> dict[str, date]:
    return {code: date.fromisoformat(day) for code, day in loss.steps.items()}


def next_step(loss: Loss, *, is_charged: bool, today: date) -> Next:
    return next_of(
        kind=Kind(loss.sort), noticed_on=loss.noticed_on, done=days_done(loss), search_until=loss.search_until,
        is_charged=is_charged, today=today,
    )  # fmt: skip
