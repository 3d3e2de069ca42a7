"""After a failed play test: which spots on the horn explain it, and how to tell them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import Instrument, PlayTest
from inventory.rules.diagnose import Diagnosis, Suspect, UnknownNotesError, diagnose

SHOWN_FIRST = 3  # on the instrument's page; the test's own page has room for more
SHOWN_ALL = 8


@dataclass(frozen=True, slots=True)
class Spot:
    """One place on the horn (two, where no single one explains the notes) with the faults that would explain them."""

    part: str  # code of the first, for the link
    where: str
    faults: tuple[tuple[str, str], ...]  # what it would be, and the test that tells; best first
    rank: int
    is_tied: bool  # another spot explains as well
    unexplained: tuple[str, ...]
    extra: tuple[str, ...]  # notes that should have failed with it and did not

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(name for name, _ in self.faults)


@dataclass(frozen=True, slots=True)
class SuspectSpots:
    failed: tuple[str, ...]
    spots: Sequence[Spot]
    more: int  # spots not shown
    hints: Sequence[str]


def spots_of(test: PlayTest | None, instrument: Instrument, *, most: int = SHOWN_FIRST) -> SuspectSpots | None:
    """Group the suspects of a failed test by spot, best first; None where nothing failed or the chart has changed."""
    if test is None or not test.failed_notes:
        return None
    diagnosis = diagnosis_of(test, instrument)
    return None if diagnosis is None else spots(diagnosis, kind=instrument.kind, most=most)


def spots(diagnosis: Diagnosis, *, kind: Kind, most: int) -> SuspectSpots:
    found = grouped(diagnosis, kind=kind)
    return SuspectSpots(
        failed=tuple(shown_note(name) for name in diagnosis.failed),
        spots=found[:most],
        more=max(len(found) - most, 0),
        hints=diagnosis.hints,
    )


def grouped(diagnosis: Diagnosis, *, kind: Kind) -> list[Spot]:
    """Return the spots, best first; at each, the faults that explain most there."""
    by_spot: dict[tuple[tuple[str, str], ...], list[Suspect]] = {}
    for suspect in diagnosis.suspects:
        by_spot.setdefault(tuple((cause.part, cause.place) for cause in suspect.causes), []).append(suspect)
    best = {places: min(suspect.rank for suspect in suspects) for places, suspects in by_spot.items()}
    found = []
    for places, suspects in by_spot.items():
        leading = [suspect for suspect in suspects if suspect.rank == best[places]]
        where = " together with ".join(place_words(kind, part=part, place=place) for part, place in places)
        found.append(
            Spot(
                part=places[0][0],
                where=where,
                faults=tuple({fault_words(one): telling(one.test, where=where) for one in leading}.items()),
                rank=best[places],
                is_tied=sum(rank == best[places] for rank in best.values()) > 1,
                unexplained=tuple(shown_note(name) for name in leading[0].unexplained),
                extra=tuple(shown_note(name) for name in leading[0].extra),
            )
        )
    return sorted(found, key=lambda spot: spot.rank)


def telling(test: str, *, where: str) -> str:
    """Return a test without the name of the spot, which stands above it."""
    head, _, rest = test.partition(": ")
    return rest if rest and head.lower() == where.lower() else test


def shown_note(written: str) -> str:
    return written.replace("#", "♯").replace("b", "♭")


def diagnosis_of(test: PlayTest, instrument: Instrument) -> Diagnosis | None:
    if not test.failed_notes:
        return None
    trade, kind = catalog(), instrument.kind
    try:
        return diagnose(
            kind=kind,
            chart=chart_of(kind, instrument.options),
            options=instrument.options,
            failed=test.failed_notes,
            faults=trade.faults,
            roles=trade.roles,
        )
    except UnknownNotesError:
        return None  # the chart has changed since the test was kept


def place_words(kind: Kind, *, part: str, place: str) -> str:
    stop = kind.part(part)
    spot = next((one.name for one in stop.places if one.code == place), "")
    return f"{stop.name}, {spot}" if spot else stop.name


def fault_words(suspect: Suspect) -> str:
    faults = catalog().faults
    return " and ".join(faults[cause.fault].name if cause.fault in faults else "missing" for cause in suspect.causes)
