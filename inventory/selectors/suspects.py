"""After a failed play test: which spots on the horn explain it, and how to tell them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import Instrument, PlayTest
from inventory.rules.diagnose import Diagnosis, Prediction, Suspect, UnknownNotesError, diagnose, predictions
from inventory.rules.playing import LEVELS, level_notes

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
        where = " together with ".join(kind.part(part).at(place) for part, place in places)
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
    """Diagnose the notes that failed; None without any, and where the chart has changed since the test was kept."""
    if not test.failed_notes:
        return None
    return remembered(
        instrument.kind_code, tuple(sorted(instrument.options.items())), tuple(test.failed_notes), id(catalog())
    )


@lru_cache(maxsize=256)
def remembered(
    kind_code: str, options: tuple[tuple[str, str], ...], failed: tuple[str, ...], catalog_id: int
) -> Diagnosis | None:
    """The diagnosis, worked out once: it tries every fault at every place, too slow for each look at a page.

    ``catalog_id`` tells one loaded catalog from another.
    """
    trade = catalog()
    kind = trade.kinds[kind_code]
    try:
        return diagnose(
            kind=kind,
            chart=chart_of(kind, dict(options)),
            options=dict(options),
            failed=failed,
            faults=trade.faults,
            roles=trade.roles,
            known=known_predictions(kind, options, failed, catalog_id),
        )
    except UnknownNotesError:
        return None


def known_predictions(
    kind: Kind, options: tuple[tuple[str, str], ...], failed: tuple[str, ...], catalog_id: int
) -> tuple[Prediction, ...] | None:
    """What each fault would spoil at the first level that has all the failed notes; None where no single level has."""
    chart = chart_of(kind, dict(options))
    for level in LEVELS:
        if level in kind.levels and set(failed) <= set(level_notes(kind=kind, chart=chart, level=level)):
            return predictions_at(kind.code, options, level, catalog_id)
    return None


@lru_cache(maxsize=128)
def predictions_at(
    kind_code: str, options: tuple[tuple[str, str], ...], level: str, catalog_id: int
) -> tuple[Prediction, ...]:
    del catalog_id  # a part of the key only
    trade = catalog()
    kind = trade.kinds[kind_code]
    chart = chart_of(kind, dict(options))
    return tuple(
        predictions(kind=kind, chart=chart, options=dict(options), faults=trade.faults, roles=trade.roles, level=level)
    )


def fault_words(suspect: Suspect) -> str:
    faults = catalog().faults
    return " and ".join(faults[cause.fault].name if cause.fault in faults else "missing" for cause in suspect.causes)
