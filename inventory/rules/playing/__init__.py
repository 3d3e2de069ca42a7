"""What can still be played: from findings to the notes that are usual, refingered, off or lost.

Pure: the catalog's values go in, a report comes out. ``level_fits`` says for whom it is enough.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from inventory.catalog.chart_schema import BrassChart, Chart, HoleChart, SlideChart
from inventory.catalog.schema import Fault, Kind, PlayingModel, Role
from inventory.rules.facts import FindingFact
from inventory.rules.pitch import midi_of, name_of
from inventory.rules.playing.bars import BarModel, functions_lost
from inventory.rules.playing.fitness import (
    LEVEL_NAMES,
    LEVELS,
    NOTES_OF_LEVEL,
    LevelFit,
    for_everybody,
    level_fits,
    level_name,
)
from inventory.rules.playing.holes import HoleModel
from inventory.rules.playing.readings import Reading, read_findings
from inventory.rules.playing.reports import NoteResult, NoteState, PlayingReport, TuningRange
from inventory.rules.playing.slides import SlideModel
from inventory.rules.playing.tuning import narrowest, open_length_mm, tuning_range
from inventory.rules.playing.valves import ValveModel
from inventory.rules.playing.ways import note_result

__all__ = [
    "LEVELS",
    "LEVEL_NAMES",
    "NOTES_OF_LEVEL",
    "PITCH_LIMIT",
    "LevelFit",
    "NoteResult",
    "NoteState",
    "PlayingReport",
    "TuningRange",
    "for_everybody",
    "level_fits",
    "level_name",
    "level_notes",
    "level_span",
    "playing",
    "speaking",
    "uncharted",
]

PITCH_LIMIT = 25.0  # cents; uncorrected 1+3 (30) and 1+2+3 (54) are beyond it, 2+3 (16) and 1+2 (11) are not
TREBLE_OF_BASS = 14  # a treble-clef part is written a ninth above a bass-clef one


def playing(
    *,
    kind: Kind,
    chart: Chart | None,
    options: Mapping[str, str],
    findings: Sequence[FindingFact],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    level: str = "first_year",
    pitch_limit: float = PITCH_LIMIT,
    standard_only: bool = False,
    slide_mm: float | None = None,
) -> PlayingReport:
    """Return what becomes of each note that a level needs.

    ``pitch_limit`` is in cents. ``standard_only`` counts a note as lost when its usual fingering is. ``slide_mm`` is how
    far the main tuning slide was out when it was last played. Findings at parts that the instrument does not have are
    left out. KeyError if the kind has no such level.
    """
    chosen = kind.chosen(options)
    readings = read_findings(kind=kind, options=chosen, findings=findings, faults=faults, roles=roles)
    sounds = sounding_shift(kind, chart)
    wanted = level_notes(kind=kind, chart=chart, level=level)
    model = _model(kind, chart=chart, options=chosen, readings=readings, wanted=wanted, pitch_limit=pitch_limit)
    lost = functions_lost(readings)
    if isinstance(model, ValveModel | SlideModel):
        lost += model.functions_lost()
    return PlayingReport(
        level=level,
        notes=tuple(
            note_result(
                written,
                sounding=midi_of(written) + sounds,
                ways=model.ways(written),
                usual=model.usual(written),
                standard_only=standard_only,
            )
            for written in wanted
        )
        if model is not None
        else (),
        tuning_range=_tuning(chart, readings=readings, sounds=sounds, slide_mm=slide_mm),
        functions_lost=tuple(dict.fromkeys(lost)),
        verified=chart is None or chart.verified,
        origin="" if chart is None else chart.origin,
    )


def _model(
    kind: Kind,
    *,
    chart: Chart | None,
    options: Mapping[str, str],
    readings: Sequence[Reading],
    wanted: Sequence[str],
    pitch_limit: float = PITCH_LIMIT,
) -> ValveModel | SlideModel | HoleModel | BarModel | None:
    """Return what knows the ways to each note of an instrument with these findings; None where it has no notes."""
    if isinstance(chart, BrassChart):
        sounds = sounding_shift(kind, chart)
        return ValveModel(chart=chart, options=options, sounds=sounds, readings=readings, pitch_limit=pitch_limit)
    if isinstance(chart, SlideChart):
        return SlideModel(chart=chart, levers=levers_of(kind, options), readings=readings)
    if isinstance(chart, HoleChart):
        return HoleModel(chart=chart, parts=kind.parts_for(options), readings=readings)
    return BarModel(readings=readings, low=wanted[0], high=wanted[-1]) if wanted else None


def speaking(
    *,
    kind: Kind,
    chart: Chart | None,
    options: Mapping[str, str],
    findings: Sequence[FindingFact],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    level: str,
) -> dict[tuple[str, str], bool]:
    """Return whether each note of a level speaks as it should, for every fingering of it; the usual one is ""."""
    chosen = kind.chosen(options)
    readings = read_findings(kind=kind, options=chosen, findings=findings, faults=faults, roles=roles)
    wanted = level_notes(kind=kind, chart=chart, level=level)
    model = _model(kind, chart=chart, options=chosen, readings=readings, wanted=wanted)
    return {
        (written, "" if way.fingering == model.usual(written) else way.fingering): way.is_good and not way.blockers
        for written in wanted
        if model is not None
        for way in model.ways(written)
    }


def _tuning(
    chart: Chart | None, *, readings: Sequence[Reading], sounds: int, slide_mm: float | None
) -> TuningRange | None:
    """Return how far the main slides still tune a brass instrument; on a double horn what both its sides can do."""
    if isinstance(chart, BrassChart):
        tubes = [(side.fundamental, {"", side.code}) for side in chart.sides]
    elif isinstance(chart, SlideChart):
        tubes = [(chart.fundamental, {""})]
    else:
        return None
    return narrowest(
        tuning_range(
            slides=[slide for slide in chart.tuning if slide.side in sides],
            readings=readings,
            length_mm=open_length_mm(fundamental=fundamental, sounds=sounds),
            played={} if slide_mm is None else {slide.part: slide_mm for slide in chart.tuning[:1]},
        )
        for fundamental, sides in tubes
    )


def clef_shift(kind: Kind, chart: Chart | None) -> int:
    """Return by how many semitones the chart is written above the kind's own clef: 14 for a treble-clef euphonium."""
    is_treble = isinstance(chart, BrassChart) and chart.clef == "treble"
    return TREBLE_OF_BASS if kind.clef == "bass" and is_treble else 0


def sounding_shift(kind: Kind, chart: Chart | None) -> int:
    """Return by how many semitones it sounds above what its chart writes."""
    return (kind.sounds or 0) - clef_shift(kind, chart)


def levers_of(kind: Kind, options: Mapping[str, str]) -> str:
    """Return the levers of a trombone: "T" for an F attachment, "G" for a second rotor."""
    rotors = [part.code for part in kind.parts_for(options) if part.role == "rotor"]
    return "".join("G" if code.startswith("second") else "T" for code in rotors)


def level_span(kind: Kind, *, level: str) -> tuple[str, str] | None:
    """Return the written range that a level needs, None where the kind has no notes; KeyError: no such level."""
    if level in kind.levels:
        return kind.levels[level]
    if level not in LEVELS:
        raise KeyError(level)
    return kind.first_year or next(iter(kind.levels.values()), None)


def level_notes(*, kind: Kind, chart: Chart | None, level: str) -> tuple[str, ...]:
    """Return the written notes that a level needs and the chart has, ascending, as the chart spells them."""
    span = level_span(kind, level=level)
    if span is None:
        return ()
    if chart is None:
        if kind.model is not PlayingModel.BARS:
            return ()
        return BarModel(readings=(), low=span[0], high=span[1]).notes()
    shift = clef_shift(kind, chart)
    low, high = midi_of(span[0]) + shift, midi_of(span[1]) + shift
    names = chart.fingerings if isinstance(chart, HoleChart) else chart.usual
    return tuple(name for name in names if low <= midi_of(name) <= high)


def uncharted(*, kind: Kind, chart: Chart | None, level: str) -> tuple[str, ...]:
    """Return the notes of a level's range, below and above, for which the chart has no fingering: they are not judged."""
    span = level_span(kind, level=level)
    charted = [midi_of(name) for name in level_notes(kind=kind, chart=chart, level=level)]
    if span is None or not charted:
        return ()
    shift = clef_shift(kind, chart)
    wanted = range(midi_of(span[0]) + shift, midi_of(span[1]) + shift + 1)
    return tuple(name_of(midi) for midi in wanted if midi not in charted)
