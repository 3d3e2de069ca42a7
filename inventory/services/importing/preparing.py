"""Everything a batch will write, made ready before the transaction begins, so that others wait as briefly as can be."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from inventory.catalog.load import catalog
from inventory.exceptions import ImportRefusedError
from inventory.models import Acquired, Instrument, Level, School, Whereabouts
from inventory.rules.intake.fit import fit_options, notes_of
from inventory.rules.intake.judge import RowJudgement, RowState
from inventory.rules.intake.row import place_key
from inventory.rules.intake.values import IntakeValues
from inventory.rules.readiness import ReadinessFacts, readiness
from inventory.selectors.standing import standing_for
from inventory.services.registering import new_token

LONGEST_NOTES = 10_000


@dataclass(slots=True)
class Prepared:
    """One row on its way into the register. ``room`` is the room's name, not yet a row of its own."""

    row: int
    instrument: Instrument
    token: str
    room: str
    room_key: tuple[int, str]  # school and name as rooms are compared
    donor: str
    received_on: date


def judgement_of_row(*, number: int, values: Mapping[str, Any], fingerprint: str) -> RowJudgement:
    """A stored row as the judge gave it."""
    return RowJudgement(number, RowState.NEW, IntakeValues.from_record(values), fingerprint)


def prepare(
    *,
    rows: Iterator[RowJudgement],
    schools: Mapping[str, School],
    at: datetime,
    today: date,
    make_token: Callable[[], str] = new_token,
) -> Iterator[Prepared]:
    """Turn judged rows into unsaved instruments. Raises ImportRefusedError for a school or kind that is not there."""
    kinds = catalog().kinds
    for judgement in rows:
        values = judgement.values
        if values.kind not in kinds:
            raise ImportRefusedError(
                f"Row {judgement.number}: the kind {values.kind} has left the catalog. Judge again."
            )
        if values.school not in schools:
            raise ImportRefusedError(f"Row {judgement.number} belongs to a school you may not import for.")
        kind = kinds[values.kind]
        fit = fit_options(values, options=kind.options, key=kind.key)
        instrument = Instrument(
            asset_number=values.asset_number.upper(),
            kind_code=kind.code,
            level=values.level or Level.STUDENT,
            maker=values.maker,
            model=values.model,
            serial=values.serial,
            year_made=values.year_made,
            options=dict(fit.options),
            acquired_by=values.acquired_by or Acquired.UNKNOWN,
            acquired_on=values.acquired_on,
            acquisition_cost_amount=values.cost_amount,
            funding_source=values.funding_source,
            award_number=values.award_number,
            federal_percent=values.federal_share,
            title_holder=values.title_holder,
            school=schools[values.school],
            notes=notes_of(values, left=fit.left, most=LONGEST_NOTES),
            registered_at=at,
            fingerprint=judgement.fingerprint,
            **columns_when_new(kind_code=kind.code, options=tuple(sorted(fit.options.items()))),
        )
        yield Prepared(
            row=judgement.number,
            instrument=instrument,
            token=make_token(),
            room=values.room,
            room_key=(instrument.school_id, _room_key(values.room)),
            donor=values.donor,
            received_on=values.acquired_on or today,
        )


_room_key = lru_cache(maxsize=4096)(place_key)


@lru_cache(maxsize=512)
def columns_when_new(*, kind_code: str, options: tuple[tuple[str, str], ...]) -> dict[str, Any]:
    """The stored verdict and readiness of an instrument that nobody has inspected: the same for all of its kind."""
    judgement = standing_for(kind_code, dict(options), is_inspected=False).judgement
    answer = readiness(
        ReadinessFacts(
            verdict=judgement.verdict.value,
            whereabouts=Whereabouts.IN_STORE,
            stopping=list(judgement.reasons),
            limits=list(judgement.limits),
        )
    )
    return {
        "verdict": judgement.verdict.value,
        "limits": list(judgement.limits),
        "readiness": answer.readiness.value,
        "readiness_reasons": [
            {"code": reason.code, "text": reason.text, "clears": reason.clears.value, "stays_in": reason.stays_in}
            for reason in answer.reasons
        ],
    }
