"""Notes of a trombone: positions are lengths of one slide, so a note is a length, and a stop is a length too.

The tube is 1 in first position; n semitones below a partial need 2^(n/12) of it, and the slide gives the part that no
valve gives. A player sets the slide by ear, so a note that can be reached is in tune: its error of lengths is 0.
An attachment adds 2^(n/12) - 1; two of them, each with a lever of its own, add up. Positions are those of the slide as it
stands, to the nearest whole one: with an attachment the steps are longer, so "T7" is all there is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from core.translation import gettext as _
from core.translation import gettext_noop
from inventory.catalog.chart_schema import SlideChart
from inventory.catalog.schema import FaultWay, RoleTag
from inventory.rules.facts import DetailWord
from inventory.rules.pitch import midi_of
from inventory.rules.playing.partials import natural_cents, true_semitones
from inventory.rules.playing.readings import Reading
from inventory.rules.playing.ways import Harm, Trouble, Way, indexes

POSITIONS = 7
POSITION = "position "  # before the number that a finding's detail names
PAST_SEVENTH = 7.45  # where a slide comes off: low C with the F attachment lies beyond seventh. From memory
NEAR = 1e-9  # lengths are ratios of the tube
HALF_WAY = 4  # where a slide stops if nobody said where
ATTACHMENTS = {"T": gettext_noop("F attachment"), "G": gettext_noop("second attachment")}


def extension(place: float) -> float:
    """Return how much longer the tube is in a position (1 to 7) than in first, as a share of it."""
    return 2 ** ((place - 1) / 12) - 1


FURTHEST = extension(PAST_SEVENTH)


def nearest_position(out: float) -> int:
    """Return the position that is nearest to where the slide stands, a share of the tube out."""
    return round(1 + 12 * math.log2(1 + max(out, 0.0)))


def tube(chart: SlideChart, levers: str) -> float:
    """Return the length of the tube in first position with these levers down; 1 without any."""
    added = {"T": chart.attachment, "G": chart.second_attachment}
    return 1 + sum(2 ** (added[lever] / 12) - 1 for lever in levers)


def slide_range(reading: Reading) -> tuple[int, int] | None:
    """Return the positions between which a finding lets the hand slide move, None where it does not limit it."""
    if RoleTag.HAND_SLIDE not in reading.tags:
        return None
    if FaultWay.FIXES in reading.ways:
        stands = reading.detail.position or 1
        return stands, stands
    if FaultWay.HALTS in reading.ways and reading.loses:
        return 1, reading.detail.position or HALF_WAY
    return None


def _trouble(reading: Reading) -> Trouble | None:
    """Return what a finding off the hand slide does; what concerns an attachment goes by its lever, T or G."""
    index = reading.index
    if reading.valve == "T" or RoleTag.ATTACHMENT in reading.tags:  # the open tube does without it
        lever = "G" if reading.part.code.startswith("second") else "T"
        if not (reading.loses or reading.stops):
            return None
        if FaultWay.LEAKS in reading.ways and reading.loses:
            return Trouble(index, Harm.LEAKS, valve=lever)
        return Trouble(index, Harm.HOLDS, valve=lever, while_down=DetailWord.DOWN not in reading.detail.words)
    if reading.stops:
        return Trouble(index, Harm.SILENCES)
    return Trouble(index, Harm.LEAKS) if reading.loses and reading.is_on_air_path else None


class SlideModel:
    """The ways to play each note of one trombone, and what findings leave of them. ``levers`` are those it has."""

    def __init__(self, *, chart: SlideChart, levers: str, readings: Sequence[Reading]) -> None:
        self.chart = chart
        self.levers = [taken for taken in ("", "T", "G", "TG") if set(taken) <= set(levers)]
        self.partials = {partial: chart.fundamental + true_semitones(partial) for partial in chart.partials}
        self.limits = {reading.index: limit for reading in readings if (limit := slide_range(reading))}
        self.least = max((extension(low) for low, _ in self.limits.values()), default=0.0)
        self.most = min((extension(high) for _, high in self.limits.values()), default=FURTHEST)
        others = (_trouble(reading) for reading in readings if reading.index not in self.limits)
        self.troubles = tuple(trouble for trouble in others if trouble)

    def ways_to(self, midi: int) -> Iterable[tuple[float, str, int]]:
        """Yield every way a sound trombone gives a note: how far out the slide is, a share of the tube; levers; partial."""
        for levers in self.levers:
            for partial, height in self.partials.items():
                out = 2 ** ((height - midi) / 12) - tube(self.chart, levers)
                if -NEAR <= out <= FURTHEST + NEAR:
                    yield out, levers, partial

    def usual(self, written: str) -> str:
        """Return the position that a player uses first."""
        return self.chart.usual[written]

    def ways(self, written: str) -> list[Way]:
        """Return the ways to a note, the shortest reach first."""
        return [self._way(*reach) for reach in sorted(self.ways_to(midi_of(written)))]

    def _way(self, out: float, levers: str, partial: int) -> Way:
        here = [trouble for trouble in self.troubles if trouble.concerns(set(levers))]
        is_in_reach = self.least - NEAR <= out <= self.most + NEAR
        return Way(
            fingering=f"{levers}{nearest_position(out)}",
            blockers=indexes(here, Harm.SILENCES, Harm.HOLDS) + (() if is_in_reach else tuple(self.limits)),
            leaks=indexes(here, Harm.LEAKS),
            low=natural_cents(partial) if out <= NEAR else 0.0,  # further in than first position no slide goes
            partial=partial,
        )

    def functions_lost(self) -> tuple[str, ...]:
        """Return what a player can no longer do, notes apart."""
        held = [trouble for trouble in self.troubles if trouble.harm is Harm.HOLDS]
        with_it = [_(ATTACHMENTS[trouble.valve]) for trouble in held if trouble.while_down]
        without = [_(ATTACHMENTS[trouble.valve]) for trouble in held if not trouble.while_down]
        lost = [_("the %(attachment)s", attachment=name) for name in with_it]
        lost += [_("playing without the %(attachment)s", attachment=name) for name in without]
        return tuple(dict.fromkeys(lost))
