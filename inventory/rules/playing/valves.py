"""Notes of valved brass: one tube, or the two sides of a double horn, and what keeps its valves and slides from moving.

Open tube 1; valve k adds 2^(s/12) - 1 of it, s = 2, 1, 3, 5 semitones for valves one to four. A fingering gives a note
if the tube it makes has a partial there. Cents are those of the lengths alone, against equal temperament; partials are
taken as pure octaves and fifths of that temperament, so that only the valves speak.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

from inventory.catalog.chart_schema import BrassChart, Side
from inventory.catalog.schema import MISSING_PART, FaultWay, RoleTag
from inventory.rules.pitch import CENTS_PER_OCTAVE, midi_of
from inventory.rules.playing.partials import open_notes
from inventory.rules.playing.readings import Reading, millimeters
from inventory.rules.playing.reports import NoteResult, NoteState
from inventory.rules.playing.tuning import is_fixed, open_length_mm

FURTHEST_CENTS = (
    60.0  # a makeshift further off than this is nearer the next note; 1+2+3 uncorrected, 54, is the worst usual one
)
SEMITONES = {1: 2, 2: 1, 3: 3, 4: 5}


@dataclass(slots=True)
class Trouble:
    """What the findings do: each entry maps a valve (with its side, if it has one) to the findings behind it."""

    stopped: list[int] = field(default_factory=list)  # nothing sounds
    weak: list[int] = field(default_factory=list)  # a leak on the way of every note
    held_up: dict[str, list[int]] = field(default_factory=dict)  # valve -> findings
    held_down: dict[str, list[int]] = field(default_factory=dict)
    fixed: dict[tuple[str, str], list[int]] = field(default_factory=dict)  # (valve, side or "") -> findings
    open_loop: dict[tuple[str, str], list[int]] = field(default_factory=dict)  # air escapes when the valve is down
    weak_loop: dict[tuple[str, str], list[int]] = field(default_factory=dict)
    pulled_mm: dict[tuple[str, str], float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Way:
    """One fingering that gives a note on a sound instrument."""

    side: Side
    valves: tuple[int, ...]
    fingering: str
    cents: float
    is_cured: bool  # a slide that moves puts it right


def valve_trouble(readings: Sequence[Reading], *, valves: Iterable[str]) -> Trouble:
    """Sort the findings of a valved instrument by what they do to its tube."""
    trouble = Trouble()
    for reading in readings:
        mine = (reading.valve,) if reading.valve else tuple(valves)
        if reading.finding.fault == "brace_missing" and "ring" in reading.finding.detail.casefold():
            trouble.fixed.setdefault(("3", ""), []).append(reading.index)  # no ring, no moving it while playing
            continue
        if RoleTag.BRANCH in reading.tags and reading.valve:
            _branch(trouble, reading)
        elif reading.stops:
            trouble.stopped.append(reading.index)
        elif not reading.loses:
            continue
        elif FaultWay.LEAKS in reading.ways or RoleTag.VALVE not in reading.tags:
            if reading.is_on_air_path:
                trouble.weak.append(reading.index)
        else:
            # Nothing lifts a valve without a spring that can; any other finding holds it where it stands, up.
            is_gone = FaultWay.UNSPRUNG in reading.ways or reading.finding.fault == MISSING_PART
            is_springless = reading.part.role == "valve_spring" and is_gone
            is_down = is_springless or "down" in reading.finding.detail.casefold()
            held = trouble.held_down if is_down else trouble.held_up
            if "slow" not in reading.finding.detail.casefold():
                for valve in mine:
                    held.setdefault(valve, []).append(reading.index)
    return trouble


def _branch(trouble: Trouble, reading: Reading) -> None:
    """A finding on the loop of one valve: it matters only while that valve is down."""
    loop = (reading.valve, reading.side)
    if reading.stops or (reading.finding.fault == MISSING_PART and reading.loses):
        trouble.open_loop.setdefault(loop, []).append(reading.index)
    elif is_fixed(reading):
        trouble.fixed.setdefault(loop, []).append(reading.index)
        pulled = millimeters(reading.finding.detail) or 0.0
        trouble.pulled_mm[loop] = min(pulled, trouble.pulled_mm.get(loop, pulled))
    elif reading.loses:
        trouble.weak_loop.setdefault(loop, []).append(reading.index)


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
        length = (1 + lengths[compensating]) * (1 + sum(lengths.values()) - lengths[compensating])
    needed = 2 ** (sum(SEMITONES[valve] for valve in valves) / 12)
    return CENTS_PER_OCTAVE * math.log2(needed / length)


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
        self.count = int(options.get("valves", chart.valves))
        self.compensating = 0
        if options.get("compensating", "no") in {"yes", "true", "compensating"}:
            self.compensating = 4 if self.count >= 4 else 3
        numbers = tuple(str(valve) for valve in range(1, self.count + 1))
        thumb = ("T",) if any(side.prefix for side in chart.sides) else ()
        self.trouble = valve_trouble(readings, valves=numbers + thumb)
        self.ways: dict[int, list[Way]] = {}
        for side in chart.sides:
            self._add_side(side, length_mm=open_length_mm(fundamental=side.fundamental, sounds=sounds))

    def _add_side(self, side: Side, *, length_mm: float) -> None:
        partials = tuple(open_notes(fundamental=side.fundamental, partials=side.partials).values())
        extra = {
            int(valve): 2 * pulled / length_mm
            for (valve, of), pulled in self.trouble.pulled_mm.items()
            if valve.isdigit() and of in {"", side.code}
        }
        every = range(1, self.count + 1)
        for valves in (chosen for size in range(self.count + 1) for chosen in combinations(every, size)):
            drop = sum(SEMITONES[valve] for valve in valves)
            way = Way(
                side=side,
                valves=valves,
                fingering=side.prefix + ("".join(map(str, valves)) or "0"),
                cents=combination_cents(valves, compensating=self.compensating, extra=extra) + 0.0,
                is_cured=self._is_cured(valves, side=side),
            )
            for partial in partials:
                self.ways.setdefault(partial - drop, []).append(way)

    def _is_cured(self, valves: tuple[int, ...], *, side: Side) -> bool:
        return any(
            valves in throw.cures
            and not (throw.option and self.options.get(throw.option) in throw.cannot)
            and not self._hits(self.trouble.fixed, str(throw.valve), side)
            for throw in self.chart.throws
        )

    @staticmethod
    def _hits(loops: Mapping[tuple[str, str], list[int]], valve: str, side: Side) -> list[int]:
        return [*loops.get((valve, ""), ()), *(loops.get((valve, side.code), ()) if side.code else ())]

    def _pressed(self, way: Way) -> set[str]:
        return {str(valve) for valve in way.valves} | ({"T"} if way.side.prefix else set())

    def blockers(self, way: Way) -> list[int]:
        """Return the findings that make a way impossible."""
        trouble, pressed = self.trouble, self._pressed(way)
        found = [index for valve, by in trouble.held_up.items() if valve in pressed for index in by]
        found += [index for valve, by in trouble.held_down.items() if valve not in pressed for index in by]
        found += [index for valve in pressed for index in self._hits(trouble.open_loop, valve, way.side)]
        return [*found, *trouble.stopped]

    def leaks(self, way: Way) -> list[int]:
        """Return the findings that make a way weak."""
        found = list(self.trouble.weak)
        for valve in self._pressed(way):
            found += self._hits(self.trouble.weak_loop, valve, way.side)
        return found

    def spoilers(self, way: Way) -> list[int]:
        """Return the findings that make a way weak or out of tune."""
        found = self.leaks(way)
        if abs(way.cents) > self.pitch_limit and not way.is_cured:
            for valve in self._pressed(way):
                found += self._hits(self.trouble.fixed, valve, way.side)
        return found

    @staticmethod
    def is_near(way: Way) -> bool:
        """Whether a makeshift fingering still gives this note and not its neighbor."""
        return way.is_cured or abs(way.cents) <= FURTHEST_CENTS

    def is_good(self, way: Way) -> bool:
        in_tune = abs(way.cents) <= self.pitch_limit or way.is_cured
        return in_tune and not self.spoilers(way)

    def usual(self, written: str) -> str:
        """Return the fingering that a player uses first on this instrument."""
        fingering = self.chart.usual[written]
        return self.chart.four_valves.get(fingering, fingering) if self.count >= 4 else fingering

    def note(self, written: str, *, sounding: int, standard_only: bool) -> NoteResult:
        """Return what becomes of one note: the best way that is left, usual fingering first."""
        usual = self.usual(written)
        ways = self.ways.get(midi_of(written), [])
        if standard_only:
            ways = [way for way in ways if way.fingering == usual]
        standard = next((way for way in ways if way.fingering == usual), None)
        because = {index for way in ways for index in (*self.blockers(way), *self.spoilers(way))}
        possible = sorted(
            (way for way in ways if not self.blockers(way) and (way.fingering == usual or self.is_near(way))),
            key=lambda way: (
                not self.is_good(way),
                way.fingering != usual,
                standard is not None and way.side is not standard.side,
                len(way.valves),
                abs(way.cents),
            ),
        )
        if not possible:
            return NoteResult(written, sounding, NoteState.LOST, "", None, tuple(sorted(because)))
        best = possible[0]
        if not self.is_good(best):
            state = NoteState.OFF
        elif best.fingering == usual:
            state, because = NoteState.USUAL, set()
        else:
            state = NoteState.OTHER_FINGERING
            because = {*self.blockers(standard), *self.spoilers(standard)} if standard else because
        return NoteResult(
            written,
            sounding,
            state,
            best.fingering,
            best.cents,
            tuple(sorted(because)),
            is_weak=state is NoteState.OFF and bool(self.leaks(best)),
        )

    def functions_lost(self) -> tuple[str, ...]:
        """Return what a player can no longer do, notes apart."""
        trouble = self.trouble
        lost = [
            f"correcting sharp combinations with the slide of valve {throw.valve}"
            for throw in self.chart.throws
            if any(valve == str(throw.valve) for valve, _ in trouble.fixed)
        ]
        if "T" in trouble.held_up:
            lost.append("the thumb valve's side")
        if "T" in trouble.held_down:
            lost.append("the side without the thumb valve")
        return tuple(lost)
