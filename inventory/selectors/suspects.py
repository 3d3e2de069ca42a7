"""After a failed play test: which spots on the horn explain it, and how to tell them apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, partial

from inventory.catalog.load import catalog
from inventory.catalog.schema import MISSING_PART, Kind
from inventory.models import Instrument, PlayTest
from inventory.rules.diagnose import Diagnosis, Heard, Prediction, Suspect, UnknownNotesError, diagnose, predictions
from inventory.rules.standing import Standing
from inventory.selectors.standing import standing_for

SHOWN_FIRST = 3  # on the instrument's page; the test's own page has room for more
SHOWN_ALL = 8
MANY_TIED = 4  # spots in front; from here on a test that shows several of them is worth more than one for each
MOST_PARTING = 3


@dataclass(frozen=True, slots=True)
class Spot:
    """One place on the horn (two, where no single one explains the notes) with the faults that would explain them."""

    part: str  # code of the first, for the link
    where: str
    faults: tuple[tuple[str, str], ...]  # what it would be, and the test that tells; best first
    rank: int
    ties: int  # how many other spots explain as well
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
    parting: Sequence[tuple[str, int]]  # tests that show several of the spots in front, each with how many


def spots_of(test: PlayTest | None, instrument: Instrument, *, most: int = SHOWN_FIRST) -> SuspectSpots | None:
    """Group the suspects of a test by spot, best first; None where no note was bad or the chart has changed."""
    if test is None or not (test.failed_notes or test.weak_notes):
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
        parting=parting(found),
    )


def grouped(diagnosis: Diagnosis, *, kind: Kind) -> list[Spot]:
    """Return the spots, best first; at each, the faults that explain most there."""
    by_spot: dict[tuple[tuple[str, str], ...], list[Suspect]] = {}
    for suspect in diagnosis.suspects:
        places = tuple(owner(kind, part=cause.part, place=cause.place) for cause in suspect.causes)
        by_spot.setdefault(places, []).append(suspect)
    best = {places: min(suspect.rank for suspect in suspects) for places, suspects in by_spot.items()}
    sharing = Counter(best.values())
    found = []
    for places, suspects in by_spot.items():
        leading = [suspect for suspect in suspects if suspect.rank == best[places]]
        where = " together with ".join(kind.part(part).at(place) for part, place in places)
        tests: dict[str, str] = {}
        for one in leading:
            tests.setdefault(fault_words(one), telling(one.test, wheres=wheres(one, kind=kind)))
        found.append(
            Spot(
                part=places[0][0],
                where=where,
                faults=tuple(tests.items()),
                rank=best[places],
                ties=sharing[best[places]] - 1,
                unexplained=tuple(shown_note(name) for name in leading[0].unexplained),
                extra=tuple(shown_note(name) for name in leading[0].extra),
            )
        )
    return sorted(found, key=lambda spot: spot.rank)


def owner(kind: Kind, *, part: str, place: str) -> tuple[str, str]:
    """Return the part that a place belongs to: springs and tone holes of the whole body only repeat the places of pads."""
    if place and kind.part(part).repeats_places:
        for other in kind.parts:
            if not other.repeats_places and any(one.code == place for one in other.places):
                return other.code, place
    return part, place


def parting(found: Sequence[Spot]) -> tuple[tuple[str, int], ...]:
    """Return the tests that show most of the spots in front, where so many stand there that a list of all is no help."""
    front = [spot for spot in found if spot.rank == found[0].rank]
    if len(front) < MANY_TIED:
        return ()
    missing = catalog().faults[MISSING_PART].name  # whoever counts the parts sees it without a test
    counted = Counter(test for spot in front for test in {test for name, test in spot.faults if name != missing})
    return tuple((test, count) for test, count in counted.most_common(MOST_PARTING) if count > 1)


def wheres(suspect: Suspect, *, kind: Kind) -> tuple[str, ...]:
    return tuple(kind.part(cause.part).at(cause.place) for cause in suspect.causes)


def telling(test: str, *, wheres: Sequence[str]) -> str:
    """Return a test without the name of the spot, which stands above it."""
    head, _, rest = test.partition(": ")
    return rest if rest and len(wheres) == 1 and head.lower() == wheres[0].lower() else test


def shown_note(written: str) -> str:
    return written.replace("#", "♯").replace("b", "♭")


def diagnosis_of(test: PlayTest, instrument: Instrument) -> Diagnosis | None:
    """Diagnose the notes that were bad; None without any, and where the chart has changed since the test was kept."""
    if not (test.failed_notes or test.weak_notes):
        return None
    heard = Heard(
        failed=tuple(test.failed_notes),
        weak=tuple(test.weak_notes),
        tried=tuple(test.tried_notes),
        tells_weak=True,
    )
    return remembered(standing_for(instrument.kind_code, instrument.options), heard)


@lru_cache(maxsize=256)
def remembered(healthy: Standing, heard: Heard) -> Diagnosis | None:
    """The diagnosis, worked out once: it tries every fault at every place, too slow for each look at a page."""
    try:
        return diagnose(
            heard,
            kind=healthy.kind,
            chart=healthy.chart,
            faults=healthy.catalog.faults,
            predict=partial(predictions_at, healthy),
        )
    except UnknownNotesError:
        return None


@lru_cache(maxsize=128)
def predictions_at(healthy: Standing, level: str) -> tuple[Prediction, ...]:
    """What each fault would spoil of a level's notes."""
    trade = healthy.catalog
    return predictions(
        healthy.kind,
        level,
        chart=healthy.chart,
        options=healthy.options,
        faults=trade.faults,
        roles=trade.roles,
    )


def fault_words(suspect: Suspect) -> str:
    """Say the faults, with what each would have to be like: "stuck piston (down)"."""
    trade = catalog()
    return " and ".join(
        trade.fault_name(cause.fault) + (f" ({said_detail(cause.detail)})" if cause.detail else "")
        for cause in suspect.causes
    )


def said_detail(detail: str) -> str:
    return f"stops at {detail}" if detail.startswith("position") else detail
