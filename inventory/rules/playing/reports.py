"""What the computation of notes answers with."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from core.translation import gettext as _


class NoteState(StrEnum):
    """What becomes of a note, best first."""

    USUAL = "usual"
    OTHER_FINGERING = "other_fingering"
    OFF = "off"  # out of tune beyond the limit, or weak from a leak
    LOST = "lost"

    @property
    def rank(self) -> int:
        return tuple(NoteState).index(self)


@dataclass(frozen=True, slots=True)
class NoteResult:
    """One written note of the chart."""

    written: str  # as the chart spells it: C#4, Eb4
    sounding: int  # MIDI
    state: NoteState
    fingering: str  # valves "0", "13", "T2"; slide positions "1" to "7", "T1"; keys "T L1 L2"; "" when lost
    cents: float | None  # error of the valve lengths alone, main slide at pitch, nothing lipped; None when lost
    because: tuple[int, ...] = ()  # indexes of the findings that keep it from being as usual
    is_weak: bool = False  # off by a leak, by no cents that lengths could tell
    cents_low: float | None = (
        None  # with ``cents_high``: where a good player puts it, moving the slide that corrects it
    )
    cents_high: float | None = None
    partial: int = 0  # of the tube; 0: not brass, or lost

    @property
    def figures(self) -> dict[str, float | None]:
        """The cents and their band, to a thousandth; None where the note is lost."""
        cents = {"cents": self.cents, "cents_low": self.cents_low, "cents_high": self.cents_high}
        return {name: None if value is None else round(value, 3) + 0.0 for name, value in cents.items()}

    @property
    def is_spoiled(self) -> bool:
        return self.state in {NoteState.OFF, NoteState.LOST}


@dataclass(frozen=True, slots=True)
class TuningRange:
    """How far the main slides still tune the instrument, in cents, from where it stands."""

    stands_cents: float  # where it stands against A4 = 440: 0 when the slide can be set
    up_cents: float  # how far it can be pushed in, sharper
    down_cents: float  # how far it can be pulled out, flatter
    can_reach_a440: bool

    @property
    def words(self) -> str:
        """Say where it stands, after its name; "" while it can be tuned."""
        if self.can_reach_a440:
            return ""
        cents = f"{abs(self.stands_cents):.0f}"
        if self.stands_cents > 0:
            return _("stands %(cents)s cents sharp and cannot be tuned to A = 440", cents=cents)
        return _("stands %(cents)s cents flat and cannot be tuned to A = 440", cents=cents)


@dataclass(frozen=True, slots=True)
class PlayingReport:
    """What can still be played on one instrument at one level."""

    level: str
    notes: tuple[NoteResult, ...]  # ascending; empty for drums and strings
    tuning_range: TuningRange | None  # None where no main slide tunes the instrument
    functions_lost: tuple[str, ...]
    verified: bool = True  # False: what the keys move is from memory until a district confirms it
    origin: str = ""

    def written(self, *states: NoteState) -> tuple[str, ...]:
        """Return the written names of the notes in these states."""
        return tuple(note.written for note in self.notes if note.state in states)

    @property
    def lost(self) -> tuple[str, ...]:
        return self.written(NoteState.LOST)

    @property
    def off(self) -> tuple[str, ...]:
        return self.written(NoteState.OFF)

    @property
    def mistuning(self) -> str:
        """What keeps it from A = 440, said after its name; "" for nothing."""
        return self.tuning_range.words if self.tuning_range else ""

    @property
    def lost_share(self) -> float:
        """Share of the notes that are lost; 0 where the model has no notes."""
        return len(self.lost) / len(self.notes) if self.notes else 0.0
