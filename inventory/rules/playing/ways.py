"""The ways to play one note, what findings do to them, and which one is left: shared by all kinds that have notes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from enum import StrEnum

from inventory.rules.playing.reports import NoteResult, NoteState


@dataclass(frozen=True, slots=True)
class Way:
    """One fingering for a note, with the indexes of the findings in its way."""

    fingering: str
    blockers: tuple[int, ...] = ()  # they make it impossible
    leaks: tuple[int, ...] = ()  # they make it weak
    detuners: tuple[int, ...] = ()  # they keep it from being put in tune
    cents: float = 0.0  # error of the lengths
    low: float = 0.0  # between here and ``high`` a sound instrument in good hands gives the note
    high: float = 0.0
    partial: int = 0  # of the tube; 0 where the model has none
    is_in_tune: bool = True
    is_makeshift: bool = True  # in tune enough to stand in for the usual fingering

    @property
    def is_good(self) -> bool:
        return self.is_in_tune and not self.leaks and not self.detuners

    @property
    def because(self) -> tuple[int, ...]:
        return (*self.blockers, *self.leaks, *self.detuners)


def note_result(
    written: str, *, sounding: int, ways: Sequence[Way], usual: str, standard_only: bool = False
) -> NoteResult:
    """Return what becomes of a note. ``ways`` come best first; the usual fingering goes before all others.

    ``standard_only`` counts no fingering but the usual one.
    """
    standard = [way for way in ways if way.fingering == usual]
    ways = standard if standard_only else ways
    possible = [way for way in ways if not way.blockers and (way.is_makeshift or way.fingering == usual)]
    if not possible:
        return NoteResult(written, sounding, NoteState.LOST, "", None, _findings(ways))
    best = min(possible, key=lambda way: (not way.is_good, way.fingering != usual))
    if not best.is_good:
        state, because = NoteState.OFF, _findings(ways)
    elif best.fingering == usual:
        state, because = NoteState.USUAL, ()
    else:
        state, because = NoteState.OTHER_FINGERING, _findings(standard or ways)
    is_weak = state is NoteState.OFF and bool(best.leaks)
    return NoteResult(
        written,
        sounding,
        state,
        best.fingering,
        best.cents,
        because,
        is_weak=is_weak,
        cents_low=best.low,
        cents_high=best.high,
        partial=best.partial,
    )


def _findings(ways: Iterable[Way]) -> tuple[int, ...]:
    return tuple(sorted({index for way in ways for index in way.because}))


class Harm(StrEnum):
    """What a finding does to a tube that valves or levers lengthen."""

    SILENCES = "silences"  # no sound gets through
    HOLDS = "holds"  # the valve does not move
    LEAKS = "leaks"  # the note is weak
    FIXES = "fixes"  # the slide of the valve does not move


@dataclass(frozen=True, slots=True)
class Trouble:
    """A finding by what it does, and when: always, or while one valve is down (or up)."""

    index: int  # of the finding
    harm: Harm
    valve: str = ""  # "1" to "4", "T" or "G"; "": whatever is pressed
    side: str = ""  # of a double horn; "": both
    while_down: bool = True
    pulled_mm: float | None = None  # how far a slide that does not move stands out

    def concerns(self, pressed: AbstractSet[str], *, side: str = "") -> bool:
        """Return whether it matters while these valves are pressed on this side."""
        if not self.valve:
            return True
        return (self.valve in pressed) is self.while_down and self.side in {"", side}


def indexes(troubles: Iterable[Trouble], *harms: Harm) -> tuple[int, ...]:
    """Return the findings that do one of these harms."""
    return tuple(trouble.index for trouble in troubles if trouble.harm in harms)
