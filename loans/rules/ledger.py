"""Money between a school and a family, kept by double entry.

Each entry moves one amount from one account to another, so it adds up to nothing, and so does any number of them. What a
family owes is the sum of the account FAMILY over its entries. Nothing is edited: a mistake is reversed by the same postings
with the opposite sign. Amounts are dollars and cents; a posting above nothing is a debit, below nothing a credit.

Source: the double entry of bookkeeping (Pacioli, Summa de arithmetica, 1494); which account each act moves is common
practice for money owed to a school, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

NOTHING = Decimal(0)
LEAST = Decimal("0.01")
MOST = Decimal("99999.99")  # of one entry; more is a slip of the finger. Common practice, no source


class Account(StrEnum):
    """Where money stands. What a family owes, what came in, and what it was for."""

    FAMILY = "family"  # owed by the family; below nothing, owed to it
    CASH = "cash"  # received by the school
    FEES = "fees"
    DAMAGE = "damage"
    LOSS = "loss"
    WAIVED = "waived"


class Sort(StrEnum):
    """What an entry is."""

    FEE = "fee"
    DAMAGE = "damage"
    LOSS = "loss"
    PAYMENT = "payment"
    REFUND = "refund"
    WAIVER = "waiver"
    FOUND = "found"  # an instrument that was charged as lost came back
    REVERSAL = "reversal"


class Move(NamedTuple):
    """The account that is debited, and the one that is credited."""

    debit: Account
    credit: Account


MOVES: Mapping[Sort, Move] = {
    Sort.FEE: Move(Account.FAMILY, Account.FEES),
    Sort.DAMAGE: Move(Account.FAMILY, Account.DAMAGE),
    Sort.LOSS: Move(Account.FAMILY, Account.LOSS),
    Sort.PAYMENT: Move(Account.CASH, Account.FAMILY),
    Sort.REFUND: Move(Account.FAMILY, Account.CASH),
    Sort.WAIVER: Move(Account.WAIVED, Account.FAMILY),
    Sort.FOUND: Move(Account.LOSS, Account.FAMILY),
}


def in_cents(amount: Decimal) -> int:
    """Return whole cents; ValueError where the amount has parts of a cent."""
    whole = amount.scaleb(2)
    if whole != whole.to_integral_value():
        raise ValueError(f"{amount} has parts of a cent")
    return int(whole)


def in_dollars(cents: int) -> Decimal:
    """Return dollars and cents."""
    return Decimal(cents).scaleb(-2)


def postings(sort: Sort, amount: Decimal) -> dict[Account, Decimal]:
    """Return what an entry posts to each account; a waiver of nothing, which stands for later fees alone, posts nothing.

    ValueError for a reversal, which ``opposite`` makes, or a bad amount.
    """
    if sort not in MOVES:
        raise ValueError(f"{sort} takes its postings from the entry it reverses")
    if sort is Sort.WAIVER and amount == NOTHING:
        return {}
    if not LEAST <= amount <= MOST or amount != amount.quantize(LEAST):
        raise ValueError(f"{amount} is not an amount of dollars and cents from {LEAST} to {MOST}")
    move = MOVES[sort]
    return {move.debit: amount, move.credit: -amount}


def opposite(posted: Mapping[Account, Decimal]) -> dict[Account, Decimal]:
    """Return what reverses these postings."""
    return {account: -amount for account, amount in posted.items()}


def totals(posted: Iterable[tuple[Account, Decimal]]) -> dict[Account, Decimal]:
    """Return the sum of each account that anything was posted to."""
    sums: dict[Account, Decimal] = defaultdict(Decimal)
    for account, amount in posted:
        sums[account] += amount
    return dict(sums)


def most_of(sort: Sort, *, owed: Decimal) -> Decimal:
    """Return the largest amount that an entry of this sort may have, given what the family owes (below nothing: is owed).

    Nobody is paid back more than is owed to them, nothing is waived that nobody owes; a family may pay ahead.
    """
    if sort is Sort.REFUND:
        return max(NOTHING, -owed)
    if sort is Sort.WAIVER:
        return max(NOTHING, owed)
    return MOST


def owed_for_loss(*, charged: Decimal, repair_cost: Decimal, value: Decimal) -> Decimal:
    """Return what stays owed of a charge for loss once the instrument is found.

    Damage since it was lost may be kept back: the cost of repair, no more than the value and than what was charged. All else
    is taken off the family's account, and paid back as far as they had paid. Common practice, no source.
    """
    return max(NOTHING, min(charged, repair_cost, value))
