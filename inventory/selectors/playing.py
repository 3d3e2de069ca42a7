"""The play tests of an instrument, the notes that its levels need, and what bad notes say about it."""

from __future__ import annotations

from datetime import date
from functools import lru_cache, partial

from django.utils import timezone

from inventory.catalog.chart_schema import BrassChart, SlideChart
from inventory.catalog.schema import Kind, PlayingModel, RoleTag, has_tag
from inventory.models import Instrument, PlayTest
from inventory.rules.diagnose import Diagnosis, PlayedNotes, Survey, UnknownNotesError, diagnose, survey
from inventory.rules.diagnose.parting import Spotted, Trial, parting_trial
from inventory.rules.intonation import Intonation, intonation
from inventory.rules.pitch import leveled, midi_of, temperature_cents
from inventory.rules.playing import LEVELS, PlayingReport, level_notes, sounding_shift
from inventory.rules.playing.tuning import open_length_mm, pulled_cents
from inventory.rules.standing import FIRST_YEAR, Standing
from inventory.selectors.standing import standing_for

MOST_SIBLINGS = 12  # more would hardly move their mean


def levels_of(kind: Kind) -> list[str]:
    """The levels that the kind has, easiest first."""
    return [level for level in LEVELS if level in kind.levels]


def all_notes(instrument: Instrument) -> list[str]:
    """Every written note that some level of the kind needs, as its chart spells them, ascending; else its voices."""
    healthy = standing_for(instrument.kind_code, instrument.options)
    found: dict[str, None] = {}
    for level in levels_of(healthy.kind) or [FIRST_YEAR]:
        found |= dict.fromkeys(notes_at(healthy, level))
    return sorted(found, key=midi_of) or list(voices_of(healthy))


def voices_of(standing: Standing) -> tuple[str, ...]:
    """Name what sounds by itself on a kind without notes, to be played one by one: the drums of a set, the strings."""
    if standing.chart is not None or standing.kind.model is not PlayingModel.TABLE:
        return ()
    roles = standing.catalog.roles
    speaking = (part for part in standing.kind.parts if has_tag(part, RoleTag.VOICES, roles=roles))
    return tuple(dict.fromkeys(place.name for part in speaking for place in part.places))


def notes_at(standing: Standing, level: str) -> tuple[str, ...]:
    """The written notes that a level needs; none where the kind has no such level."""
    try:
        return level_notes(kind=standing.kind, chart=standing.chart, level=level)
    except KeyError:
        return ()


def play_tests_of(instrument: Instrument) -> list[PlayTest]:
    """Oldest first, each with its tester. One query."""
    return list(
        PlayTest.objects.filter(instrument=instrument).select_related("actor", "instrument").order_by("played_at", "pk")
    )


def earlier_test(test: PlayTest) -> PlayTest | None:
    """The test of the same instrument that came just before."""
    earlier = PlayTest.objects.filter(instrument=test.instrument, played_at__lt=test.played_at)
    return earlier.order_by("-played_at", "-pk").first()


def follows_room(kind: Kind) -> bool:
    """Whether a warm room makes it sharp: winds. Bars go the other way and a little, strings are tuned."""
    return kind.model not in {PlayingModel.BARS, PlayingModel.TABLE}


def room_cents(test: PlayTest) -> float | None:
    """How sharp the room made its cents; None where nothing is taken off: not recorded, no wind, or tuned first."""
    if test.room_celsius is None or test.is_tuned_first or not follows_room(test.instrument.kind):
        return None
    return temperature_cents(float(test.room_celsius))


def measured(test: PlayTest) -> dict[str, float]:
    """Written note -> cents, at 20 degrees Celsius where the room counts, of the notes that spoke."""
    room = room_cents(test) or 0.0
    return {
        row["written"]: row["cents"] - room
        for row in test.measures
        if row.get("spoke", True) and row.get("cents") is not None
    }


def slide_shift(test: PlayTest) -> float:
    """What to add to a test's cents so that tests with the main slide elsewhere compare: as if it stood at pitch.

    0 where nobody noted how far out it was. Its cents then count at 20 degrees Celsius even where it was tuned first.
    """
    healthy = standing_for(test.instrument.kind_code, test.instrument.options)
    chart = healthy.chart
    if test.slide_mm is None or not isinstance(chart, BrassChart | SlideChart) or not chart.tuning:
        return 0.0
    fundamental = chart.fundamental if isinstance(chart, SlideChart) else chart.sides[0].fundamental
    length = open_length_mm(fundamental=fundamental, sounds=sounding_shift(healthy.kind, chart))
    shift = pulled_cents(out_mm=float(test.slide_mm), at_pitch_mm=chart.tuning[0].at_pitch_mm, length_mm=length)
    if test.is_tuned_first and test.room_celsius is not None:
        shift -= temperature_cents(float(test.room_celsius))
    return shift


def intonation_of(test: PlayTest, *, report: PlayingReport) -> Intonation:
    """Judge what was measured against the instrument's earlier tests, else its model's, else its lengths. Two queries."""
    earlier = [one for one in play_tests_of(test.instrument) if one.played_at < test.played_at]
    return intonation(
        measured(test),
        notes=report.notes,
        earlier=[cents for one in earlier if (cents := measured(one))],
        siblings=[cents for one in sibling_tests(test.instrument) if (cents := measured(one))],
    )


def sibling_tests(instrument: Instrument) -> list[PlayTest]:
    """The latest test of each other instrument of its maker and model, the newest MOST_SIBLINGS of them."""
    if not (instrument.maker and instrument.model):
        return []
    siblings = Instrument.objects.filter(
        kind_code=instrument.kind_code, maker__iexact=instrument.maker, model__iexact=instrument.model
    ).exclude(pk=instrument.pk)
    tests = PlayTest.objects.filter(instrument__in=siblings).exclude(measures=[]).select_related("instrument")
    latest: dict[int, PlayTest] = {}
    for test in tests.order_by("-played_at", "-pk")[: MOST_SIBLINGS * 5]:
        latest.setdefault(test.instrument_id, test)
    return list(latest.values())[:MOST_SIBLINGS]


def tuning_trend(instrument: Instrument) -> list[tuple[date, float]]:
    """Day and cents of each test that measured, oldest first: at 20 degrees Celsius, corrected for notes left out."""
    tests = [test for test in play_tests_of(instrument) if measured(test)]
    levels = leveled([measured(test) for test in tests])
    return [
        (timezone.localdate(test.played_at), level + slide_shift(test))
        for test, level in zip(tests, levels, strict=True)
    ]


def diagnosis_of(test: PlayTest, instrument: Instrument) -> Diagnosis | None:
    """Diagnose the notes that were bad; None without any, and where the chart has changed since the test."""
    if not (test.failed_notes or test.weak_notes):
        return None
    tested = PlayedNotes(
        failed=tuple(test.failed_notes),
        weak=tuple(test.weak_notes),
        tried=tuple(test.tried_notes),
        tells_weak=True,
    )
    return _diagnosis(standing_for(instrument.kind_code, instrument.options), tested)


@lru_cache(maxsize=256)
def _diagnosis(healthy: Standing, tested: PlayedNotes) -> Diagnosis | None:
    """Computed once: it tries every fault at every place, too slow for each request."""
    try:
        return diagnose(
            tested,
            kind=healthy.kind,
            chart=healthy.chart,
            faults=healthy.catalog.faults,
            surveyed=partial(survey_at, healthy),
            options=healthy.options,
        )
    except UnknownNotesError:
        return None


def parting_of(instrument: Instrument, spots: tuple[Spotted, ...], *, played: frozenset[str]) -> Trial | None:
    """Return what to play to tell spots apart that explain the failed notes equally well."""
    return _parting(standing_for(instrument.kind_code, instrument.options), spots, played)


@lru_cache(maxsize=256)
def _parting(healthy: Standing, spots: tuple[Spotted, ...], played: frozenset[str]) -> Trial | None:
    return parting_trial(
        spots,
        kind=healthy.kind,
        chart=healthy.chart,
        options=healthy.options,
        faults=healthy.catalog.faults,
        roles=healthy.catalog.roles,
        played=played,
    )


@lru_cache(maxsize=128)
def survey_at(healthy: Standing, level: str) -> Survey:
    """Which notes of a level each fault would spoil, and which faults none."""
    trade = healthy.catalog
    return survey(
        healthy.kind,
        level,
        chart=healthy.chart,
        options=healthy.options,
        faults=trade.faults,
        roles=trade.roles,
    )
