"""The play tests of an instrument, the notes that its levels need, and what bad notes say about it."""

from __future__ import annotations

from datetime import date
from functools import lru_cache, partial

from django.utils import timezone

from inventory.catalog.schema import Kind
from inventory.models import Instrument, PlayTest
from inventory.rules.diagnose import Diagnosis, Heard, Prediction, UnknownNotesError, diagnose, predictions
from inventory.rules.pitch import Unexplained, corrected_cents, leveled, midi_of, unexplained
from inventory.rules.playing import LEVELS, PlayingReport, level_notes
from inventory.rules.standing import FIRST_YEAR, Standing
from inventory.selectors.standing import standing_for


def levels_of(kind: Kind) -> list[str]:
    """The levels that the kind has, easiest first."""
    return [level for level in LEVELS if level in kind.levels]


def all_notes(instrument: Instrument) -> list[str]:
    """Every written note that some level of the kind needs, as its chart spells them, ascending."""
    healthy = standing_for(instrument.kind_code, instrument.options)
    found: dict[str, None] = {}
    for level in levels_of(healthy.kind) or [FIRST_YEAR]:
        found |= dict.fromkeys(notes_at(healthy, level))
    return sorted(found, key=midi_of)


def notes_at(standing: Standing, level: str) -> tuple[str, ...]:
    """The written notes that a level needs; none where the kind has no such level."""
    try:
        return level_notes(kind=standing.kind, chart=standing.chart, level=level)
    except KeyError:
        return ()


def play_tests_of(instrument: Instrument) -> list[PlayTest]:
    """Oldest first, each with its tester. One query."""
    return list(PlayTest.objects.filter(instrument=instrument).select_related("actor").order_by("played_at", "pk"))


def earlier_test(test: PlayTest) -> PlayTest | None:
    """The test of the same instrument that came just before."""
    earlier = PlayTest.objects.filter(instrument=test.instrument, played_at__lt=test.played_at)
    return earlier.order_by("-played_at", "-pk").first()


def measured(test: PlayTest) -> dict[str, float]:
    """Written note -> cents at 20 degrees Celsius, of the notes that spoke."""
    celsius = None if test.room_celsius is None else float(test.room_celsius)
    return {
        row["written"]: row["cents"] if celsius is None else corrected_cents(row["cents"], celsius=celsius)
        for row in test.measures
        if row.get("spoke", True) and row.get("cents") is not None
    }


def surprises_of(test: PlayTest, *, report: PlayingReport) -> tuple[Unexplained, ...]:
    predicted = {note.written: note.cents for note in report.notes if note.cents is not None}
    return unexplained(measured=measured(test), predicted=predicted)


def tuning_trend(instrument: Instrument) -> list[tuple[date, float]]:
    """Day and cents of each test that measured, oldest first: at 20 degrees Celsius, corrected for notes left out."""
    tests = [
        (timezone.localdate(test.played_at), cents) for test in play_tests_of(instrument) if (cents := measured(test))
    ]
    return list(zip((on for on, _ in tests), leveled([cents for _, cents in tests]), strict=True))


def diagnosis_of(test: PlayTest, instrument: Instrument) -> Diagnosis | None:
    """Diagnose the notes that were bad; None without any, and where the chart has changed since the test."""
    if not (test.failed_notes or test.weak_notes):
        return None
    heard = Heard(
        failed=tuple(test.failed_notes),
        weak=tuple(test.weak_notes),
        tried=tuple(test.tried_notes),
        tells_weak=True,
    )
    return _diagnosis(standing_for(instrument.kind_code, instrument.options), heard)


@lru_cache(maxsize=256)
def _diagnosis(healthy: Standing, heard: Heard) -> Diagnosis | None:
    """Computed once: it tries every fault at every place, too slow for each request."""
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
    """Which notes of a level each fault would spoil."""
    trade = healthy.catalog
    return predictions(
        healthy.kind,
        level,
        chart=healthy.chart,
        options=healthy.options,
        faults=trade.faults,
        roles=trade.roles,
    )
