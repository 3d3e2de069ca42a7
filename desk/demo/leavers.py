"""What left the fleet, what was entered twice, and what goes from school to school. Draws no random numbers."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from desk.demo.money import nonce_of
from desk.demo.stage import Stage
from desk.selectors.leaving import value_now
from desk.services.leaving import dispose, offer, settle_offer
from inventory.models import Disposal, Instrument, InstrumentQuerySet, Readiness, Transfer, Verdict, Whereabouts
from inventory.rules.leaving import Way
from inventory.selectors.leaving import approvers_of
from inventory.services.registering import register_instrument
from loans.models import AssignmentLine
from repairs.models import Job

SOLD_DAYS = -85
TWICE = "ENTEREDTWICE2222"  # the tag of the record that never was an instrument
GIVES, TAKES = "TVHS", "MILL"
LEFT: tuple[tuple[str, Way, dict[str, Any]], ...] = (
    ("TVHS", Way.SOLD, {
        "because": "Repair costs more than it is worth.", "recipient": "County surplus auction",
        "proceeds_amount": Decimal("650.00"),
    }),
    ("TVHS", Way.SCRAPPED, {"because": "Red rot through the leadpipe and the main tube; small parts kept."}),
    ("QUARRY", Way.TRADED_IN, {
        "because": "Traded in on the dealer's fall order.", "recipient": "The dealer",
        "proceeds_amount": Decimal("120.00"),
    }),
)  # fmt: skip


def _in_store(code: str) -> InstrumentQuerySet:
    return Instrument.objects.filter(school__code=code, whereabouts=Whereabouts.IN_STORE)


def remove_from_fleet(stage: Stage) -> list[Disposal]:
    """Sell, scrap and trade in what is old and stays in, so that no loan changes."""
    left = []
    for number, (code, way, fields) in enumerate(LEFT):
        broken = _in_store(code).filter(readiness=Readiness.STAYS_IN, federal_percent=None, year_made__isnull=False)
        broken = broken.filter(verdict__in=(Verdict.DOES_NOT_PLAY, Verdict.PLAYS_WITH_LIMITS))
        instrument = broken.select_related("school").order_by("year_made", "pk").first()
        if instrument is not None:  # a small demo may lack one
            left.append(_dispose(stage, instrument, way=way, days=SOLD_DAYS + number, **fields))
    return left


def _dispose(stage: Stage, instrument: Instrument, *, way: Way, days: int, **fields: Any) -> Disposal:
    actor, at = stage.director_of(instrument.school), stage.at(days, 15, 40)
    amount = max(value_now(instrument, today=at.date()), fields.get("proceeds_amount", Decimal(0)))
    approver = approvers_of(instrument.school_id, amount=amount, but_for=actor).order_by("pk").first()
    return dispose(
        instrument=instrument, way=way, on=at.date(), approved_by=approver, is_confirmed=True, actor=actor, at=at,
        nonce=nonce_of(f"left {instrument.asset_number}"), **fields,
    )  # fmt: skip


def enter_one_twice(stage: Stage) -> Disposal | None:
    """Register an instrument that has a record already, then take the second one out as entered in error."""
    known = _in_store(TAKES).exclude(serial="").select_related("school", "room").order_by("pk").first()
    if known is None:
        return None
    twice = register_instrument(
        kind_code=known.kind_code, school=known.school, room=known.room, maker=known.maker, model=known.model,
        year_made=known.year_made, token=TWICE, actor=stage.director_of(known.school), at=stage.at(-1, 13),
    )  # fmt: skip
    because = f"The same instrument as {known.asset_number}."
    return _dispose(stage, twice, way=Way.ERROR, days=0, because=because)


def transfer_between_schools(stage: Stage) -> list[Transfer]:
    """Give one instrument to another school, and offer that school a second one, which nobody has agreed to yet."""
    to_school = stage.schools[TAKES]
    spare = (
        _in_store(GIVES).filter(readiness=Readiness.MAY_GO_OUT).exclude(pk__in=Job.objects.open().values("instrument"))
    )
    spare = spare.exclude(pk__in=AssignmentLine.objects.exclude(instrument=None).values("instrument"))
    offers = []
    for number, instrument in enumerate(spare.select_related("school").order_by("pk")[:2]):
        goes = {row.code: row.expected if row.present is None else row.present for row in instrument.accessories.all()}
        offers.append(
            offer(
                instrument=instrument, to_school=to_school, accessories=goes, because="Two beginners more than last year.",
                actor=stage.director_of(instrument.school), at=stage.at(0, 10, number),
                nonce=nonce_of(f"offered {number}"),
            )
        )  # fmt: skip
    if offers:
        director = stage.director_of(to_school)
        offers[0] = settle_offer(transfer=offers[0], is_agreed=True, actor=director, at=stage.at(0, 13))
    return offers
