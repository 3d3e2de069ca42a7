"""After a failed play test: which spots on the horn explain it, and how to tell them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import Instrument, PlayTest
from inventory.rules.diagnose import Diagnosis, Suspect
from inventory.selectors.playing import diagnosis_of, shown_note

MOST_SPOTS = 3


@dataclass(frozen=True, slots=True)
class Spot:
    """One place on the horn (two, where no single one explains the notes) with the faults that would explain them."""

    part: str  # code of the first, for the link
    where: str
    faults: tuple[str, ...]  # best first
    rank: int
    is_tied: bool  # another spot explains as well
    unexplained: tuple[str, ...]
    tests: tuple[str, ...]  # that tell it from the others


@dataclass(frozen=True, slots=True)
class SuspectSpots:
    failed: tuple[str, ...]
    spots: Sequence[Spot]
    more: int  # spots not shown
    hints: Sequence[str]


def spots_of(test: PlayTest | None, instrument: Instrument) -> SuspectSpots | None:
    """Group the suspects of a failed test by spot, best first; None where nothing failed or nothing explains it."""
    if test is None or not test.failed_notes:
        return None
    diagnosis = diagnosis_of(test, instrument)
    if diagnosis is None:
        return None
    spots = grouped(diagnosis, kind=instrument.kind)
    return SuspectSpots(
        failed=tuple(shown_note(name) for name in diagnosis.failed),
        spots=spots[:MOST_SPOTS],
        more=max(len(spots) - MOST_SPOTS, 0),
        hints=diagnosis.hints,
    )


def grouped(diagnosis: Diagnosis, *, kind: Kind) -> list[Spot]:
    by_spot: dict[tuple[tuple[str, str], ...], list[Suspect]] = {}
    for suspect in diagnosis.suspects:
        by_spot.setdefault(tuple((cause.part, cause.place) for cause in suspect.causes), []).append(suspect)
    best = {places: min(suspect.rank for suspect in suspects) for places, suspects in by_spot.items()}
    spots = []
    for places, suspects in by_spot.items():
        leading = [suspect for suspect in suspects if suspect.rank == best[places]]
        spots.append(
            Spot(
                part=places[0][0],
                where=" together with ".join(place_words(kind, part=part, place=place) for part, place in places),
                faults=tuple(dict.fromkeys(fault_words(suspect) for suspect in leading)),
                rank=best[places],
                is_tied=sum(rank == best[places] for rank in best.values()) > 1,
                unexplained=tuple(shown_note(name) for name in leading[0].unexplained),
                tests=tuple(dict.fromkeys(suspect.test for suspect in leading))[:2],
            )
        )
    return sorted(spots, key=lambda spot: spot.rank)


def place_words(kind: Kind, *, part: str, place: str) -> str:
    stop = kind.part(part)
    spot = next((one.name for one in stop.places if one.code == place), "")
    return f"{stop.name}, {spot}" if spot else stop.name


def fault_words(suspect: Suspect) -> str:
    faults = catalog().faults
    return " and ".join(faults[cause.fault].name if cause.fault in faults else "missing" for cause in suspect.causes)
