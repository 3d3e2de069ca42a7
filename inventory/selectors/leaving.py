"""Who may approve that an instrument leaves, and what left."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet, Value
from django.db.models.functions import Lower
from django.db.models.lookups import Exact

from core.models import User
from inventory.access import is_barred, people_who_may
from inventory.catalog.load import catalog
from inventory.models import Disposal, Instrument
from inventory.rules.federal import threshold_on
from inventory.rules.leaving import amount_at_stake, approved_by_whom
from inventory.rules.value import is_federal_equipment


def large_above() -> Decimal:
    """Return the amount above which the district itself approves."""
    return catalog().settings["disposal_district_amount"]


def password_above() -> Decimal:
    """Return the amount above which the approver's name alone is not enough."""
    return catalog().settings["disposal_password_amount"]


def approvers_of(school_id: int, *, amount: Decimal, but_for: User | None = None) -> QuerySet[User]:
    """Return who may approve that something of this amount leaves the school, entered by this person or by anybody."""
    people = people_who_may(approved_by_whom(amount, large_above=large_above()), school_id=school_id)
    if but_for is not None and is_barred(but_for, asker_id=but_for.pk):
        return people.exclude(pk=but_for.pk)
    return people


def asks_password(amount: Decimal, *, approver: User, asker: User) -> bool:
    """Whether it is approved by the approver's own password; nobody types it for their own."""
    return amount > password_above() and approver.pk != asker.pk


def amount_to_approve(disposal: Disposal, *, proceeds: Decimal | None) -> Decimal | None:
    """Return the amount to approve where these proceeds raise it, and above a limit; None where they do not."""
    others = (disposal.value_amount, disposal.market_amount)
    before = amount_at_stake([*others, disposal.proceeds_amount])
    amount = amount_at_stake([*others, proceeds])
    return amount if amount > max(before, min(password_above(), large_above())) else None


def serial_taken(instrument: Instrument) -> bool:
    """Whether another record of the same maker has its serial."""
    others = Instrument.objects.exclude(pk=instrument.pk).filter(is_entered_in_error=False)
    same_maker = Exact(Lower("maker"), Lower(Value(instrument.maker)))
    return bool(instrument.serial) and others.filter(same_maker, serial=instrument.serial).exists()


def disposal_of(instrument: Instrument) -> Disposal | None:
    """Return how it left, while it is gone. One query."""
    return Disposal.objects.standing().filter(instrument=instrument).for_table().first()


@dataclass(frozen=True, slots=True)
class FederalTerms:
    """What the rules of a federal award ask of an instrument that leaves."""

    percent: Decimal
    threshold: Decimal  # of its fair market value
    earlier: Decimal  # that of awards before the revision
    is_equipment: bool  # else a supply, of which only stocks above the threshold count


def federal_terms(instrument: Instrument) -> FederalTerms | None:
    """Return them, or None where no federal award paid. What nobody knows the cost of counts as equipment."""
    if not instrument.federal_percent:
        return None
    settings, cost = catalog().settings, instrument.acquisition_cost_amount
    earlier = settings["federal_earlier_amount"]
    threshold = threshold_on(instrument.awarded_on, earlier=earlier)
    level = settings["capital_level_amount"]
    is_equipment = cost is None or is_federal_equipment(cost, level=level, federal_level=threshold)
    return FederalTerms(instrument.federal_percent, threshold, earlier, is_equipment)
