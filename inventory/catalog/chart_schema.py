"""Fingering charts as frozen, typed values. Pure: ``charts.py`` fills them from ``fixtures/catalog/charts``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Rest(StrEnum):
    """How a hole stands when nobody touches the instrument."""

    OPEN = "open"
    CLOSED = "closed"
    FINGER = "finger"  # a bare hole: open until a finger covers it
    JOINT = "joint"  # not a hole: where two joints meet; never opens


class Backing(StrEnum):
    """What stands behind a fingering, the best first."""

    TWO = "two"  # two independent published charts have it
    ONE = "one"  # only one of those compared has it
    UNSURE = "unsure"  # published charts differ over the note
    MEMORY = "memory"


@dataclass(frozen=True, slots=True)
class Side:
    """One tube of a brass instrument: the whole of it, or a side of a double horn."""

    code: str  # "" for a plain instrument, "F" and "Bb" for a double horn
    prefix: str  # what goes before the fingering: "T" for the thumb valve
    fundamental: int  # MIDI number of partial 1 of the open tube, in written pitch
    partials: tuple[int, ...]  # those a school player uses; the 7th and 11th are too far off


@dataclass(frozen=True, slots=True)
class TuningSlide:
    """A slide that tunes the whole instrument (or one side)."""

    part: str
    travel_mm: float  # how far it can be pulled and still hold
    at_pitch_mm: float  # how far it is out when the instrument is at A4 = 440
    side: str = ""


@dataclass(frozen=True, slots=True)
class Throw:
    """A valve slide that puts sharp combinations right: moved while playing, or set out once and left."""

    valve: int
    option: str  # option of the kind that says whether a player can move it, "" if it is set once and left
    cannot: tuple[str, ...]  # choices of that option with which it cannot be moved while playing
    cures: tuple[tuple[int, ...], ...]  # the combinations it is pulled for
    travel_mm: float | None = None  # how far it can be pulled for them; None: as far as they need


@dataclass(frozen=True, slots=True)
class Titled:
    """What every chart says of itself."""

    code: str
    name: str
    verified: bool
    origin: str


@dataclass(frozen=True, slots=True)
class BrassChart(Titled):
    """Valved brass. ``usual`` maps a written note to its fingering: "0" open, "12", "T2" with the thumb valve."""

    sides: tuple[Side, ...]
    usual: Mapping[str, str]  # ascending
    four_valves: Mapping[str, str]  # what replaces a three-valve fingering where there is a fourth valve
    clef: str = ""  # "treble" or "bass": the clef it is written in where a kind may read either
    valves: int = 3  # unless the option "valves" says otherwise
    throws: tuple[Throw, ...] = ()
    tuning: tuple[TuningSlide, ...] = ()
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SlideChart(Titled):
    """Trombone. ``usual`` maps a written note to a position 1-7; positions are lengths of one slide.

    "T7" is seventh with the lever of the F attachment, "TG5" fifth with both levers of a bass trombone.
    """

    fundamental: int
    partials: tuple[int, ...]
    usual: Mapping[str, str]
    tuning: tuple[TuningSlide, ...] = ()
    attachment: int = 5  # semitones that an F attachment adds
    second_attachment: int = 4  # and a second one by itself: G flat, with the first about D
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole of a woodwind, or a joint between two pieces, in order from the blowing end."""

    id: str
    rest: Rest
    name: str = ""


@dataclass(frozen=True, slots=True)
class Fingering:
    """One way to play one note, worked out from the keys: which holes must seal, and which must open."""

    press: tuple[str, ...]  # as said: the two octave vents of a saxophone are both "Oct"
    keys: tuple[str, ...]  # as the chart's tables name them
    sounds_from: str  # the first hole that is open, vents apart; or the end
    must_seal: frozenset[str]  # holes above it that are shut
    must_open: frozenset[str]  # it and the vents
    vents: frozenset[str] = frozenset()
    register: int = 1
    backed: Backing = field(default=Backing.MEMORY, compare=False)  # says nothing of how the note is played

    @property
    def words(self) -> str:
        """The keys as said, "open" when nothing is pressed."""
        return " ".join(self.press) or "open"


@dataclass(frozen=True, slots=True)
class HoleChart(Titled):
    """Keyed woodwind. ``fingerings`` maps a written note to its fingerings, usual first."""

    holes: tuple[Hole, ...]
    end: str  # what the lowest note sounds from: "bell", "open_end"
    closes: Mapping[str, tuple[str, ...]]  # key -> holes it shuts
    opens: Mapping[str, tuple[str, ...]]
    fingerings: Mapping[str, tuple[Fingering, ...]]
    joints: Mapping[str, str] = field(default_factory=dict)  # part -> joint of ``holes`` where it leaks
    aliases: tuple[str, ...] = ()


Chart = BrassChart | SlideChart | HoleChart
