"""Notes of valved brass: one tube, or the two sides of a double horn, and what keeps its valves and slides from moving.

The open tube has length 1; valve k adds 2^(s/12) - 1 of it, s = 2, 1, 3, 5 semitones for valves one to four. A fingering
gives a note if the tube it makes has a partial there. Cents are those of the lengths alone, against equal temperament;
partials are taken as notes of that temperament, so that only the valves count. Beside them stands the band in which a
player puts the note: down to where a valve slide that can be moved takes it by its throw, and by the flat fifth partial.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import chain, combinations

from core.translation import gettext as _
from inventory.catalog.chart_schema import BrassChart, Side
from inventory.catalog.schema import FaultWay, RoleTag
from inventory.rules.facts import DetailWord
from inventory.rules.pitch import CENTS_PER_OCTAVE, midi_of
from inventory.rules.playing.partials import natural_cents, open_notes
from inventory.rules.playing.readings import Reading
from inventory.rules.playing.tuning import open_length_mm
from inventory.rules.playing.ways import Harm, Trouble, Way, indexes

# A makeshift further off than this is nearer the next note; 1+2+3 uncorrected, 54, is the worst usual fingering.
FURTHEST_CENTS = 60.0
SEMITONES = {1: 2, 2: 1, 3: 3, 4: 5}
RING_VALVE = "3"  # the slide that a finger moves while playing
THUMB = "T"


def troubles_of(readings: Iterable[Reading], *, valves: Sequence[str]) -> tuple[Trouble, ...]:
    """Sort the findings of a valved instrument by what they do to its tube."""
    return tuple(chain.from_iterable(_troubles(reading, valves=valves) for reading in readings))


def _troubles(reading: Reading, *, valves: Sequence[str]) -> Iterable[Trouble]:
    index = reading.index
    if FaultWay.HANDLES in reading.ways and reading.is_ring:
        yield Trouble(index, Harm.FIXES, valve=RING_VALVE)
    elif RoleTag.BRANCH in reading.tags and reading.valve:
        yield from _loop_troubles(reading)
    elif reading.stops:
        yield Trouble(index, Harm.SILENCES)
    elif not reading.loses:
        return
    elif {FaultWay.LEAKS, FaultWay.CHOKES} & set(reading.ways) or RoleTag.VALVE not in reading.tags:
        if reading.is_on_air_path:
            yield Trouble(index, Harm.LEAKS)
    elif DetailWord.SLOW not in reading.detail.words:
        # A valve without its spring stays down; anything else holds it up, unless the finding says otherwise.
        is_springless = reading.part.role == "valve_spring" and reading.lacks_spring("valve_spring")
        is_down = is_springless or DetailWord.DOWN in reading.detail.words
        for valve in (reading.valve,) if reading.valve else valves:
            yield Trouble(index, Harm.HOLDS, valve=valve, while_down=not is_down)


def _loop_troubles(reading: Reading) -> Iterable[Trouble]:
    """A finding on the loop of one valve: it matters only while that valve is down."""
    harm = None
    if reading.stops or (reading.is_gone and reading.loses):
        harm = Harm.SILENCES
    elif reading.is_fixed:
        harm = Harm.FIXES
    elif reading.loses:
        harm = Harm.LEAKS
    if harm is not None:
        pulled = (reading.detail.pulled_mm or 0.0) if harm is Harm.FIXES else None
        yield Trouble(reading.index, harm, valve=reading.valve, side=reading.side, pulled_mm=pulled)


def combination_cents(
    valves: Sequence[int], *, compensating: int = 0, extra: Mapping[int, float] | None = None
) -> float:
    """Return how sharp (positive) a combination of valves is from its lengths alone, in cents.

    ``compensating`` is the valve that routes the others through their second loops while it is down (0: none).
    ``extra`` is the length added to a valve's loop by a slide that stands out, as a share of the open tube.
    """
    lengths = {valve: 2 ** (SEMITONES[valve] / 12) - 1 + (extra or {}).get(valve, 0.0) for valve in valves}
    length = 1 + sum(lengths.values())
    if compensating in lengths:
        length = (1 + lengths[compensating]) * (length - lengths[compensating])
    needed = 2 ** (sum(SEMITONES[valve] for valve in valves) / 12)
    return CENTS_PER_OCTAVE * math.log2(needed / length)


def valve_count(chart: BrassChart, *, options: Mapping[str, str]) -> int:
    """Return how many valves an instrument has, a thumb valve apart."""
    return int(options.get("valves", chart.valves))


def usual_fingering(chart: BrassChart, *, options: Mapping[str, str], written: str) -> str:
    """Return the fingering that a player of this instrument uses first."""
    fingering = chart.usual[written]
    return chart.four_valves.get(fingering, fingering) if valve_count(chart, options=options) >= 4 else fingering


class ValveModel:
    """The ways to play each note of one instrument, and what findings leave of them."""

    def __init__(
        self,
        *,
        chart: BrassChart,
        options: Mapping[str, str],
        sounds: int,
        readings: Sequence[Reading],
        pitch_limit: float,
    ) -> None:
        self.chart = chart
        self.options = options
        self.pitch_limit = pitch_limit
        self.count = valve_count(chart, options=options)
        self.compensating = 0
        if options.get("compensating", "no") in {"yes", "true", "compensating"}:
            self.compensating = 4 if self.count >= 4 else 3
        valves = [str(valve) for valve in range(1, self.count + 1)]
        valves += [THUMB] if any(side.prefix for side in chart.sides) else []
        self.troubles = troubles_of(readings, valves=valves)
        self.sides = {side.prefix: side for side in chart.sides}
        self.by_midi: dict[int, list[tuple[Side, int, Way]]] = {}  # written note -> side, valves pressed, way
        for side in chart.sides:
            self._add_side(side, length_mm=open_length_mm(fundamental=side.fundamental, sounds=sounds))

    def _add_side(self, side: Side, *, length_mm: float) -> None:
        partials = open_notes(fundamental=side.fundamental, partials=side.partials)
        extra: dict[int, float] = {}
        for trouble in self.troubles:
            if trouble.pulled_mm is not None and trouble.valve.isdigit() and trouble.side in {"", side.code}:
                valve, longer = int(trouble.valve), 2 * trouble.pulled_mm / length_mm
                extra[valve] = min(longer, extra.get(valve, longer))
        for size in range(self.count + 1):
            for valves in combinations(range(1, self.count + 1), size):
                way = self._way(side, valves, extra=extra, length_mm=length_mm)
                drop = sum(SEMITONES[valve] for valve in valves)
                for partial, midi in partials.items():
                    found = replace(way, partial=partial, low=way.low + natural_cents(partial))
                    self.by_midi.setdefault(midi - drop, []).append((side, size, found))

    def _way(self, side: Side, valves: tuple[int, ...], *, extra: Mapping[int, float], length_mm: float) -> Way:
        pressed = {str(valve) for valve in valves} | ({THUMB} if side.prefix else set())
        here = [trouble for trouble in self.troubles if trouble.concerns(pressed, side=side.code)]
        cents = combination_cents(valves, compensating=self.compensating, extra=extra) + 0.0
        best = self._corrected(valves, side=side, extra=extra, length_mm=length_mm, cents=cents)
        is_in_tune = abs(best) <= self.pitch_limit
        return Way(
            fingering=side.prefix + ("".join(map(str, valves)) or "0"),
            blockers=indexes(here, Harm.HOLDS, Harm.SILENCES),
            leaks=indexes(here, Harm.LEAKS),
            detuners=() if is_in_tune else indexes(here, Harm.FIXES),
            cents=cents,
            low=best,
            high=cents,
            is_in_tune=is_in_tune,
            is_makeshift=abs(best) <= FURTHEST_CENTS,
        )

    def _corrected(
        self, valves: tuple[int, ...], *, side: Side, extra: Mapping[int, float], length_mm: float, cents: float
    ) -> float:
        """Return how sharp a combination still is with its slide out as far as needed, or as far as it goes."""
        best = cents
        for throw in self.chart.throws:
            if (
                valves not in throw.cures
                or self.options.get(throw.option, "") in throw.cannot
                or any(self._is_fixed(trouble, valve=throw.valve, side=side.code) for trouble in self.troubles)
            ):
                continue
            longer = dict(extra)
            if throw.travel_mm is None:
                best = min(best, 0.0)
                continue
            longer[throw.valve] = longer.get(throw.valve, 0.0) + 2 * throw.travel_mm / length_mm
            reached = combination_cents(valves, compensating=self.compensating, extra=longer)
            best = min(best, max(reached, 0.0))
        return best

    @staticmethod
    def _is_fixed(trouble: Trouble, *, valve: int, side: str) -> bool:
        return trouble.harm is Harm.FIXES and trouble.valve == str(valve) and trouble.side in {"", side}

    def usual(self, written: str) -> str:
        """Return the fingering that a player uses first on this instrument."""
        return usual_fingering(self.chart, options=self.options, written=written)

    def ways(self, written: str) -> list[Way]:
        """Return the ways to a note: those on the side of the usual one first, fewer valves first, then the truest."""
        side = self.sides.get(self.usual(written).rstrip("01234"))
        entries = self.by_midi.get(midi_of(written), [])
        entries = sorted(entries, key=lambda entry: (entry[0] is not side, entry[1], abs(entry[2].cents)))
        return [way for _, _, way in entries]

    def functions_lost(self) -> tuple[str, ...]:
        """Return what a player can no longer do, notes apart."""
        fixed = {trouble.valve for trouble in self.troubles if trouble.harm is Harm.FIXES}
        lost = [
            _("correcting sharp combinations with the slide of valve %(valve)s", valve=throw.valve)
            for throw in self.chart.throws
            if str(throw.valve) in fixed
        ]
        thumb = {
            trouble.while_down for trouble in self.troubles if trouble.harm is Harm.HOLDS and trouble.valve == THUMB
        }
        names = {True: _("the thumb valve's side"), False: _("the side without the thumb valve")}
        return (*lost, *(name for while_down, name in names.items() if while_down in thumb))
