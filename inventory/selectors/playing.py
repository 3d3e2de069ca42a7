"""The notes of a play test, what the findings predict for them, and what a kept test says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind, PlayingModel
from inventory.catalog.schema import PlayTest as PlayTestSpec
from inventory.models import Instrument, PlayTest
from inventory.rules.pitch import (
    Drift,
    Unexplained,
    corrected_cents,
    drift,
    frequency,
    leveled,
    midi_of,
    temperature_cents,
    unexplained,
)
from inventory.rules.playing import LEVEL_NAMES, LEVELS, NoteState, PlayingReport, level_notes, uncharted
from inventory.rules.standing import FIRST_YEAR, Standing
from inventory.rules.verdict import Judgement
from inventory.selectors.charts import position_words, unconfirmed_chart
from inventory.selectors.standing import standing_for, standing_of
from inventory.selectors.suspects import SHOWN_ALL, SuspectSpots, shown_note, spots_of


@dataclass(frozen=True, slots=True)
class NoteLine:
    """One note to play: how it is written, fingered and heard, and what the findings predict."""

    written: str
    shown: str  # with real sharps and flats
    fingering: str
    sounding: int  # MIDI
    hertz: float
    state: str
    predicted: float | None  # cents


@dataclass(frozen=True, slots=True)
class PlayTestPage:
    instrument: Instrument
    kind: Kind
    level: str
    levels: Sequence[tuple[str, str]]
    notes: Sequence[NoteLine]
    spec: PlayTestSpec | None
    judgement: Judgement
    unconfirmed: str  # code of the chart where nobody has confirmed its fingerings, else ""
    uncharted: Sequence[str]  # notes of the range that the chart has no fingering for


def said_fingering(kind: Kind, fingering: str) -> str:
    """Return a fingering as a band room says it: "open", "1-3", "T 1-2", "position 4"; keys as they are."""
    if kind.model is PlayingModel.HOLES or fingering in {"", "bar"}:
        return "" if fingering == "bar" else fingering
    if kind.model is PlayingModel.SLIDE:
        return position_words(fingering)
    head = fingering.rstrip("0123456789")
    digits = fingering[len(head) :]
    valves = "-".join(digits) if digits not in {"", "0"} else "open"
    return f"{head} {valves}".strip()


def levels_of(kind: Kind) -> list[tuple[str, str]]:
    return [(level, LEVEL_NAMES[level]) for level in LEVELS if level in kind.levels]


def note_lines(kind: Kind, *, report: PlayingReport, healthy: PlayingReport) -> list[NoteLine]:
    usual = {note.written: note.fingering for note in healthy.notes}
    return [
        NoteLine(
            written=note.written,
            shown=shown_note(note.written),
            fingering=said_fingering(kind, note.fingering or usual.get(note.written, "")),
            sounding=note.sounding,
            hertz=round(frequency(note.sounding), 3),
            state=note.state.value,
            predicted=note.cents,
        )
        for note in report.notes
    ]


def play_test_page(instrument: Instrument, *, level: str) -> PlayTestPage:
    """Gather what to play at a level; an unknown level counts as the first year."""
    standing = standing_of(instrument)
    kind = standing.kind
    levels = levels_of(kind)
    known = [code for code, _ in levels]
    chosen = level if level in known else (known[0] if known and FIRST_YEAR not in known else FIRST_YEAR)
    judgement = standing.at(chosen)
    healthy = standing_for(instrument.kind_code, instrument.options).at(chosen).report
    return PlayTestPage(
        instrument=instrument,
        kind=kind,
        level=chosen,
        levels=levels,
        notes=note_lines(kind, report=judgement.report, healthy=healthy),
        spec=catalog().play_tests.get(kind.play_test),
        judgement=judgement,
        unconfirmed=unconfirmed_chart(standing.chart),
        uncharted=[shown_note(name) for name in uncharted(kind=kind, chart=standing.chart, level=chosen)],
    )


def all_notes(instrument: Instrument) -> list[str]:
    """Every written note that some level of the kind needs, as its chart spells them, ascending."""
    healthy = standing_for(instrument.kind_code, instrument.options)
    found: dict[str, None] = {}
    for level in [code for code, _ in levels_of(healthy.kind)] or [FIRST_YEAR]:
        found |= dict.fromkeys(notes_at(healthy, level))
    return sorted(found, key=midi_of)


def notes_at(standing: Standing, level: str) -> tuple[str, ...]:
    """The written notes that a level needs; none where the kind has no such level."""
    try:
        return level_notes(kind=standing.kind, chart=standing.chart, level=level)
    except KeyError:
        return ()


@dataclass(frozen=True, slots=True)
class MeasuredLine:
    shown: str
    spoke: bool
    cents: float | None  # as measured
    corrected: float | None  # as it would be at 20 degrees Celsius
    spread: float | None
    tries: int
    predicted: float | None
    state: str  # what the findings predict: a NoteState
    excess: float | None  # set when neither findings nor room explain it


@dataclass(frozen=True, slots=True)
class PlayTestResult:
    test: PlayTest
    instrument: Instrument
    lines: Sequence[MeasuredLine]
    room_cents: float | None
    surprises: Sequence[str]
    suspects: SuspectSpots | None
    failed: Sequence[str]
    weak: Sequence[str]
    untried: Sequence[str]  # notes of the range that were not played, where the tester said so
    opinion: str
    trend: Sequence[tuple[date, float]]
    drift: Drift | None
    unconfirmed: str


def play_test_result(test: PlayTest) -> PlayTestResult:
    """Read a kept test against what stands now."""
    instrument = test.instrument
    standing = standing_of(instrument)
    report = standing.widest_report
    found = surprises_of(test, report=report)
    trend = tuning_trend(instrument)
    return PlayTestResult(
        test=test,
        instrument=instrument,
        lines=measured_lines(test, report=report, surprises=found),
        room_cents=None if test.room_celsius is None else temperature_cents(float(test.room_celsius)),
        surprises=[*silent_surprises(test, report=report), *(said_surprise(one) for one in found)],
        suspects=spots_of(test, instrument, most=SHOWN_ALL),
        failed=[shown_note(name) for name in test.failed_notes],
        weak=[shown_note(name) for name in test.weak_notes],
        untried=untried_of(test, standing),
        opinion=opinion_of(test),
        trend=trend,
        drift=drift(tests=trend),
        unconfirmed=unconfirmed_chart(standing.chart),
    )


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


def said_surprise(one: Unexplained) -> str:
    word = "sharp" if one.excess > 0 else "flat"
    return (
        f"{shown_note(one.written)} is {abs(one.excess):.0f} cents further {word} than the findings explain "
        f"(measured {one.measured:+.0f}, expected {one.predicted:+.0f}, the whole horn's pitch taken away)."
    )


def silent_surprises(test: PlayTest, *, report: PlayingReport) -> list[str]:
    """Notes that did not speak although no finding takes them, and notes that spoke although one should."""
    states = {note.written: note.state for note in report.notes}
    failed = set(test.failed_notes)
    spoke = set(measured(test))
    silent = [name for name in test.failed_notes if states.get(name) not in {None, NoteState.LOST}]
    present = [name for name in spoke - failed if states.get(name) is NoteState.LOST]
    said = []
    if silent:
        said.append(f"No finding explains why {', '.join(map(shown_note, silent))} failed. See the suspects below.")
    if present:
        names = ", ".join(shown_note(note.written) for note in report.notes if note.written in present)
        said.append(f"{names} spoke, although a finding says that it is lost. Look at that finding again.")
    return said


def measured_lines(test: PlayTest, *, report: PlayingReport, surprises: Sequence[Unexplained]) -> list[MeasuredLine]:
    notes = {note.written: note for note in report.notes}
    excess = {one.written: one.excess for one in surprises}
    at_pitch = measured(test)
    lines = []
    for row in test.measures:
        note = notes.get(row["written"])
        lines.append(
            MeasuredLine(
                shown=shown_note(row["written"]),
                spoke=row.get("spoke", True),
                cents=row.get("cents"),
                corrected=at_pitch.get(row["written"]),
                spread=row.get("spread"),
                tries=row.get("tries") or 1,
                predicted=note.cents if note else None,
                state=note.state.value if note else "",
                excess=excess.get(row["written"]),
            )
        )
    return lines


def untried_of(test: PlayTest, standing: Standing) -> list[str]:
    """Return the notes of the range that were not played; none where nobody said."""
    if not test.tried_notes:
        return []
    ranges = [notes_at(standing, level) for level, _ in levels_of(standing.kind)]
    names = next((names for names in ranges if set(test.tried_notes) <= set(names)), ())
    return [shown_note(name) for name in names if name not in test.tried_notes]


def opinion_of(test: PlayTest) -> str:
    """For a second opinion: is it the horn or the player?"""
    if not test.is_second_opinion:
        return ""
    first = (
        PlayTest.objects.filter(instrument=test.instrument, played_at__lt=test.played_at)
        .order_by("-played_at", "-pk")
        .first()
    )
    if first is None or not first.failed_notes:
        return ""
    again = [name for name in first.failed_notes if name in test.failed_notes]
    unheard = [name for name in first.failed_notes if test.tried_notes and name not in test.tried_notes]
    speak = [name for name in first.failed_notes if name not in again and name not in unheard]
    said = []
    if again and not speak and not unheard:
        return f"The same notes fail for both players ({named(again)}): it is the horn."
    if speak and not again and not unheard:
        return "A second player gets every note that failed before: it is the player or the reed, not the horn."
    if again:
        said.append(f"For both players {named(again)} {verb(again, 'fails', 'fail')}: that is the horn.")
    if speak:
        said.append(f"{named(speak)} {verb(speak, 'speaks', 'speak')} for the second player: that is not the horn.")
    if unheard:
        said.append(f"{named(unheard)} {verb(unheard, 'was', 'were')} not played again.")
    return " ".join(said)


def named(notes: Sequence[str]) -> str:
    return ", ".join(map(shown_note, notes))


def verb(notes: Sequence[str], one: str, many: str) -> str:
    return one if len(notes) == 1 else many


def tuning_trend(instrument: Instrument) -> list[tuple[date, float]]:
    """Day and cents (at 20 degrees Celsius, put right for the notes left out) of each test that measured, oldest first."""
    tests = [
        (timezone.localdate(test.played_at), cents)
        for test in PlayTest.objects.filter(instrument=instrument).order_by("played_at", "pk")
        if (cents := measured(test))
    ]
    return list(zip((on for on, _ in tests), leveled([cents for _, cents in tests]), strict=True))
