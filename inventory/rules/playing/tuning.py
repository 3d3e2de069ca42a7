"""How far the main slides still tune a brass instrument."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from inventory.catalog.chart_schema import TuningSlide
from inventory.rules.pitch import CENTS_PER_OCTAVE, ROOM_CELSIUS, frequency, speed_of_sound
from inventory.rules.playing.readings import Reading
from inventory.rules.playing.reports import TuningRange

LIPPED = 10.0  # cents that a school player bends without thinking of it; shop default


def open_length_mm(*, fundamental: int, sounds: int) -> float:
    """Return the effective length of an open tube, in mm, whose partial 1 is a written MIDI number.

    Half a wavelength of the sounding fundamental at 20 degrees Celsius: what the air column is worth, mouthpiece
    and bell included, which is a little more than the tube measures.
    """
    return 1000 * speed_of_sound(ROOM_CELSIUS) / (2 * frequency(fundamental + sounds))


def pulled_cents(*, out_mm: float, at_pitch_mm: float, length_mm: float) -> float:
    """Return how many cents flatter a slide that is out so far makes a tube than where it is at pitch."""
    return CENTS_PER_OCTAVE * math.log2((length_mm + 2 * (out_mm - at_pitch_mm)) / length_mm)


def narrowest(ranges: Iterable[TuningRange | None]) -> TuningRange | None:
    """Return what all sides of an instrument can do: the least movement, and where the worst side stands."""
    known = [one for one in ranges if one is not None]
    if not known:
        return None
    return TuningRange(
        stands_cents=max((one.stands_cents for one in known), key=abs),
        up_cents=min(one.up_cents for one in known),
        down_cents=min(one.down_cents for one in known),
        can_reach_a440=all(one.can_reach_a440 for one in known),
    )


def tuning_range(
    *,
    slides: Sequence[TuningSlide],
    readings: Sequence[Reading],
    length_mm: float,
    played: Mapping[str, float] | None = None,
) -> TuningRange | None:
    """Return how far the slides in series still tune, or None if the chart names none.

    A slide that moves with a hard pull is set with one. A seized slide stands where its finding says, else where the
    instrument was last played (``played``: mm by part), else at pitch. A slide moves the tube by twice its travel.
    A4 = 440 counts as reached within what a player lips.
    """
    if not slides:
        return None
    stuck = {reading.part.code: reading for reading in readings if reading.is_set}
    at_pitch = sum(slide.at_pitch_mm for slide in slides)
    shortest = longest = 0.0
    for slide in slides:
        if slide.part in stuck:
            pulled = stuck[slide.part].detail.pulled_mm
            unmeasured = (played or {}).get(slide.part, slide.at_pitch_mm)
            out = min(unmeasured if pulled is None else pulled, slide.travel_mm)
            shortest, longest = shortest + out, longest + out
        else:
            longest += slide.travel_mm
    sharpest, flattest = (
        CENTS_PER_OCTAVE * math.log2(length_mm / (length_mm + 2 * (out - at_pitch))) for out in (shortest, longest)
    )
    stands = min(max(0.0, flattest), sharpest)
    return TuningRange(
        stands_cents=round(stands, 2) + 0.0,
        up_cents=round(sharpest - stands, 2) + 0.0,
        down_cents=round(stands - flattest, 2) + 0.0,
        can_reach_a440=abs(stands) <= LIPPED,
    )
