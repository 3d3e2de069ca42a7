"""Brass on paper: a line from mouthpiece to bell in three runs, with the valves, sides or hand slide in the middle run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from core.translation import gettext as _
from inventory.catalog.schema import Kind, Part, PlayingModel
from inventory.rules.picture.art import background, glyph
from inventory.rules.picture.shapes import Caption, Figure, Pen, Point, Style, Track, bore, tube

LEAD = {"mouthpiece", "receiver", "leadpipe", "neck"}
# The pieces of a valve, from the lever or button in.
VALVE_ORDER = (
    "linkage", "valve_stem", "valve_cap", "felt", "bumper", "valve_spring", "valve_guide", "piston", "rotor", "casing",
    "bearing",
)  # fmt: skip
TOP_CAP = "top_cap"  # drawn as any cap
VALVE_INSIDE = {*VALVE_ORDER, TOP_CAP}
TUNING = {"tuning_slide", "water_key", "trigger"}
BELL = {"bow_tube", "bell", "fitting"}
ORDINALS = {"first": 1, "second": 2, "third": 3, "fourth": 4}
SIDE = 26.0


def ordinal_of(part: Part) -> int:
    """Return which valve a part belongs to by its own words, 0 when it does not say."""
    words = f"{part.code} {part.name} {part.drawn_on}".lower().replace("_", " ").split()
    return next((number for word, number in ORDINALS.items() if word in words), 0)


def valve_count(kind: Kind) -> int:
    """Return the number of valves the picture shows: as many as the pistons or rotors have places, within 3 and 4."""
    counts = [len(part.places) for part in kind.parts if part.role in {"piston", "rotor"}]
    fourth = any(ordinal_of(part) == max(ORDINALS.values()) for part in kind.parts)
    return min(max([3, 4 if fourth else 3, *counts]), 4)


def weight_of(kind: Kind) -> float:
    """Return how thick the tubing is drawn: 1 for a trumpet, nearly 2 for a tuba, by the octave the kind reaches down to."""
    if kind.sounding is None or kind.model is PlayingModel.DOUBLE_HORN:
        return 1.0
    low = kind.sounding[0]
    octave = int(low[-1]) + (1 if low[0] in "AB" else 0)
    return {1: 1.9, 2: 1.45}.get(octave, 1.0)


def mouthpiece(figure: Figure, *, x: float, y: float) -> None:
    """Draw a cup mouthpiece whose shank ends at (x, y)."""
    figure.add(f"M{x - 20} {y - 8}q3 0 4 2q3 3.500 16 4v4q-13 .500-16 4q-1 2-4 2q1.500-8 0-16z", Style.TUBE)


def loop(figure: Figure, points: Sequence[Point], *, width: float) -> Track:
    """Draw a valve loop and return the line its stations stand on."""
    figure.add(tube(points, lambda _: width), Style.TUBE)
    return Track(points)


def air_line(
    *, width: float, rows: tuple[float, float, float], start: float = SIDE + 6, end: float = SIDE
) -> list[Point]:
    """Return the line in three runs: to the right, back to the left, to the right again into the bell."""
    a, b, c = rows
    right, left = width - SIDE - (b - a) / 2 + 8, SIDE + (c - b) / 2 - 8
    pen = Pen(start, a).to(right, a).turn(x=right, y=(a + b) / 2, start=-90, sweep=180)
    pen.to(left, b).turn(x=left, y=(b + c) / 2, start=-90, sweep=-180)
    return pen.to(width - end, c).points


def piston(kind: Kind, parts: Sequence[Part], *, width: float) -> Figure:
    """Draw piston brass: leadpipe, tuning slide, valves with their loops, bow and bell, and one valve taken apart."""
    figure = Figure(width=width, height=0)
    rows = (40.0, 112.0, 238.0)
    heavy = weight_of(kind)
    bell = min(58 + 20 * (heavy - 1), 74.0)
    points = air_line(width=width, rows=rows)
    main = Track(points)
    figure.add(tube(points, bore(narrow=5, wide=9 * heavy + 4, bell=bell, flare=0.14)), Style.TUBE)
    mouthpiece(figure, x=SIDE + 6, y=rows[0])

    count = valve_count(kind)
    gap = (42.0 if count == 3 else 38.0) + (width - 328) / 24
    middle = width * (0.455 if count == 3 else 0.46)
    xs = [middle + gap * (i - (count - 1) / 2) for i in range(count)]
    loops = valve_loops(figure, xs, y=rows[1], heavy=heavy)
    for x in xs:
        valve(figure, x=x, y=rows[1])

    groups = grouped(parts, valves=count)
    stand_on_loops(figure, loops, groups)
    run = (width - 2 * SIDE) / main.length
    bend = run * 0.83 + 0.5 * (rows[1] - rows[0]) / main.length
    turn = 1 - run * 0.82 - 0.5 * 3.14 * (rows[2] - rows[1]) / 2 / main.length
    figure.place(main, groups.lead, low=0.012, high=run * 0.66, alone=0.026)
    figure.place(main, groups.tuning, low=bend, high=bend + 0.075, alone=bend)
    figure.place(main, groups.bells, low=turn, high=0.97, alone=0.96)
    figure.height = rows[2] + bell / 2 + 14
    add_pieces(figure, groups.inside, caption=_("One valve, taken apart"))
    return figure


@dataclass(frozen=True, slots=True)
class Groups:
    """The parts of valved brass by where they stand in its picture."""

    lead: list[Part] = field(default_factory=list)
    inside: list[Part] = field(default_factory=list)  # of a valve
    on_loop: dict[int, list[Part]] = field(default_factory=dict)
    tuning: list[Part] = field(default_factory=list)
    bells: list[Part] = field(default_factory=list)


def grouped(parts: Sequence[Part], *, valves: int) -> Groups:
    """Sort parts by role and by the valve their words name; what fits nowhere is left for the rail."""
    groups = Groups()
    stands = ((LEAD, groups.lead), (VALVE_INSIDE, groups.inside), (TUNING, groups.tuning), (BELL, groups.bells))
    for part in parts:
        number = min(ordinal_of(part), valves)
        if number and part.role not in LEAD:
            groups.on_loop.setdefault(number, []).append(part)
            continue
        for roles, stand in stands:
            if part.role in roles:
                stand.append(part)
    return groups


def stand_on_loops(figure: Figure, loops: Mapping[int, Track], groups: Groups) -> None:
    for number, mine in groups.on_loop.items():
        figure.place(loops[number], mine, low=0.42, high=0.84, alone=0.5)


def _piece(part: Part) -> str:
    return "valve_cap" if part.role == TOP_CAP else part.role


def add_pieces(figure: Figure, parts: Sequence[Part], *, caption: str) -> None:
    """Draw a valve taken apart below the picture, lying on its side, its stations below the pieces."""
    if not parts:
        return
    parts = sorted(parts, key=lambda part: VALVE_ORDER.index(_piece(part)))
    y, left, right = figure.height + 34, SIDE, figure.width - SIDE
    figure.captions.append(Caption(SIDE - 16, y - 20, caption))
    figure.line((left - 12, y), (right + 12, y), style=Style.DASHED, width=1)
    figure.place(Track([(left, y + 26), (right, y + 26)]), parts)
    for part in parts:
        x, _ = figure.spots[part.code]
        for stroke in glyph("valve_pieces", "felt" if part.role == "bumper" else _piece(part), x=x, y=y):
            figure.add(stroke.d, stroke.style, stroke.width)
        figure.keep.append((x - 13, y - 11, x + 13, y + 11))
    figure.height += 80


def valve(figure: Figure, *, x: float, y: float) -> None:
    """Draw a valve standing upright with its button up."""
    figure.keep.append((x - 14, y - 44, x + 14, y + 30))
    figure.line((x, y - 24), (x, y - 38), width=2)
    figure.box(x=x, y=y - 40, w=15, h=5, r=2.5, style=Style.TUBE)
    figure.box(x=x, y=y + 2, w=24, h=54, r=4)
    figure.line((x - 12, y - 17), (x + 12, y - 17))
    figure.line((x - 12, y + 22), (x + 12, y + 22))


def valve_loops(figure: Figure, xs: Sequence[float], *, y: float, heavy: float) -> dict[int, Track]:
    """Draw the loops: the first to the left, the last to the right, those between hang down, longer for more semitones."""
    width, left, right = 5.0 + heavy, SIDE + 52, figure.width - SIDE - 46
    first, *middle, last = xs
    pen = Pen(first, y + 6).to(left, y + 6).turn(x=left, y=y + 15, start=-90, sweep=-180).to(first, y + 24)
    tracks = [loop(figure, pen.points, width=width)]
    for x, end in zip(middle, (56, 66), strict=False):
        tracks.append(hanging_loop(figure, x=x, y=y + 24, end=y + end, width=width))
    pen = Pen(last, y + 14).to(right, y + 14).turn(x=right, y=y + 32, start=-90, sweep=180).to(last + 10, y + 50)
    pen.turn(x=last + 10, y=y + 40, start=90, sweep=90).to(last, y + 29)
    tracks.append(loop(figure, pen.points, width=width))
    return dict(enumerate(tracks, start=1))


def horn(kind: Kind, parts: Sequence[Part], *, width: float) -> Figure:
    """Draw a horn: on a double the thumb valve sends the air through the F or the B flat side, each with its own loops."""
    is_double = kind.model is PlayingModel.DOUBLE_HORN
    figure = background("horn_double" if is_double else "horn_single", parts, width=width)
    add_pieces(figure, [part for part in parts if part.role in VALVE_INSIDE], caption=_("One rotor with its linkage"))
    return figure


def hanging_loop(figure: Figure, *, x: float, y: float, end: float, width: float) -> Track:
    """Draw a loop that goes from a valve at (x, y) straight down to ``end`` and back, or up if that is above."""
    sweep = -180 if end > y else 180
    pen = Pen(x - 8, y).to(x - 8, end).turn(x=x, y=end, start=180, sweep=sweep).to(x + 8, y)
    return loop(figure, pen.points, width=width)
