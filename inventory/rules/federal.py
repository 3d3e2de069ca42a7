"""Equipment bought with a federal award: which threshold counts, and what the awarding agency is owed.

Source: 2 CFR 200.313(e), revision of April 2024 (89 FR 30136), in force for awards made on or after October 1, 2024. An
award made before may keep the earlier amounts: $5,000, and $500 or 10 % of the proceeds, whichever is less. Dollars.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from core.money import cents

REVISED_ON = date(2024, 10, 1)
THRESHOLD = Decimal(10_000)
HANDLING = Decimal(1_000)  # that the agency may let one keep of its share
EARLIER_HANDLING, EARLIER_SHARE = Decimal(500), Decimal("0.1")


def is_revised(awarded_on: date | None) -> bool:
    """Whether the award is under the revision; one of an unknown day is not, so that the smaller threshold counts."""
    return awarded_on is not None and awarded_on >= REVISED_ON


def threshold_on(awarded_on: date | None, *, earlier: Decimal) -> Decimal:
    """Return the fair market value up to which nothing is owed; ``earlier`` is that of awards made before."""
    return THRESHOLD if is_revised(awarded_on) else earlier


@dataclass(frozen=True, slots=True)
class Share:
    """What is owed of what it was sold for or is worth."""

    threshold: Decimal
    basis: Decimal  # proceeds of a sale, else the fair market value
    share: Decimal  # the awarding agency's part of that
    kept: Decimal  # of that part, for selling and handling, where the agency permits it

    @property
    def owed(self) -> Decimal:
        return self.share - self.kept


def share_of(
    *,
    percent: Decimal,
    market: Decimal,
    proceeds: Decimal | None,
    awarded_on: date | None,
    earlier: Decimal,
    keeps_handling: bool = False,
) -> Share:
    """Return the awarding agency's share: nothing where the market value of the one piece is at most the threshold."""
    threshold = threshold_on(awarded_on, earlier=earlier)
    basis = market if proceeds is None else proceeds
    if market <= threshold:
        return Share(threshold, basis, Decimal(0), Decimal(0))
    share = cents(basis * percent / 100)
    most = HANDLING if is_revised(awarded_on) else min(EARLIER_HANDLING, cents(basis * EARLIER_SHARE))
    return Share(threshold, basis, share, min(share, most) if keeps_handling else Decimal(0))
