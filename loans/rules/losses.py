"""A lost or stolen instrument: what is done and by when, what comes next, and what is taken off once it is found.

Days are whole days after it was noticed, amounts dollars and cents. Source: common practice of school programs (search and ask
the family the same day, a written report within a day, the police report before any claim), no published source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

from core.translation import gettext_noop
from loans.rules.ledger import owed_for_loss


class Kind(StrEnum):
    LOST = "lost"
    STOLEN = "stolen"


@dataclass(frozen=True, slots=True)
class Step:
    code: str
    words: str
    days: int  # by when, after it was noticed
    kinds: tuple[Kind, ...] = (Kind.LOST, Kind.STOLEN)


STEPS = (
    Step("search", gettext_noop("Search the rooms, storage, the buses and the lost and found"), 0),
    Step("family", gettext_noop("Ask the family; they write down when and where it was last seen"), 1),
    Step("police", gettext_noop("Report it to the police with kind, maker and serial number"), 1, (Kind.STOLEN,)),
    Step("office", gettext_noop("Tell the school office and the insurer, with the serial number"), 2),
    Step("schools", gettext_noop("Give the serial number to the other schools and to repair shops nearby"), 3),
    Step(
        "resale", gettext_noop("Look for the serial number at pawn shops and in offers of used ones"), 7, (Kind.STOLEN,)
    ),
)


class Then(StrEnum):
    """What comes after the steps."""

    SEARCH = "search_on"
    CHARGE = "charge"
    END = "end"


@dataclass(frozen=True, slots=True)
class Next:
    """The next thing to do, and by when; ``step`` is None once all are done, then ``then`` says what."""

    step: Step | None
    then: Then | None
    by: date


def steps_of(kind: Kind) -> tuple[Step, ...]:
    return tuple(step for step in STEPS if kind in step.kinds)


def next_of(
    *, kind: Kind, noticed_on: date, done: Mapping[str, date], search_until: date, is_charged: bool, today: date
) -> Next:
    """Return the first step that is not done; after them, whether to search on, charge the family, or end the case."""
    for step in steps_of(kind):
        if step.code not in done:
            return Next(step, None, noticed_on + timedelta(days=step.days))
    if today < search_until:
        return Next(None, Then.SEARCH, search_until)
    return Next(None, Then.END if is_charged else Then.CHARGE, search_until)


def taken_off(
    *, charged: Decimal, charged_on: date, found_on: date, full_days: int, repair_cost: Decimal, value: Decimal
) -> Decimal:
    """Return what of a charge for loss is taken off once the instrument is found.

    Within ``full_days`` of the charge all of it, but for what the repair of damage since costs; later nothing.
    """
    if (found_on - charged_on).days > full_days:
        return Decimal(0)
    return charged - owed_for_loss(charged=charged, repair_cost=repair_cost, value=value)
