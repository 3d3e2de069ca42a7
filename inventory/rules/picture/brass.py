"""Brass on paper: a line from mouthpiece to bell in three runs, with the valves, sides or hand slide in the middle run."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from inventory.catalog.schema import Kind, Part, PlayingModel
from inventory.rules.picture.art import glyph
from inventory.rules.picture.shapes import Caption, Figure, Pen, Point, Style, Track, bore, n, tube

LEAD = {"mouthpiece", "receiver", "leadpipe", "neck"}
# The pieces of a valve, from the lever or button in.
VALVE_ORDER = (
    "linkage", "valve_stem", "valve_cap", "felt", "bumper", "valve_spring", "valve_guide", "piston", "rotor", "casing",
    "bearing",
)  # fmt: skip
VALVE_INSIDE = set(VALVE_ORDER)
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
    figure.add(
        f"M{x - 20} {y - 8}q3 0 4 2q3 3.500 16 4v4q-13 .500-16 4q-1 2-4 2q1.500-8 0-16z",
        Style.TUBE,
    )


def place(
    figure: Figure,
    track: Track,
    parts: Sequence[Part],
    *,
    low: float = 0.0,
    high: float = 1.0,
    alone: float | None = None,
) -> None:
    """Stand the parts on the track in their order, evenly between two shares of it; a single one at ``alone``."""
    if len(parts) == 1 and alone is not None:
        low = high = alone
    for part, spot in zip(parts, track.spread(len(parts), low=low, high=high) if parts else (), strict=True):
        figure.spots[part.code] = spot


def row_of_pieces(figure: Figure, parts: Sequence[Part], *, y: float, caption: str) -> None:
    """Draw a valve taken apart, lying on its side, its stations below the pieces."""
    if not parts:
        return
    parts = sorted(parts, key=lambda part: VALVE_ORDER.index(part.role))
    figure.captions.append(Caption(SIDE - 16, y - 20, caption))
    left, right = SIDE, figure.width - SIDE
    figure.line((left - 12, y), (right + 12, y), style=Style.DASHED, width=1)
    track = Track([(left, y + 26), (right, y + 26)])
    for part, (x, below) in zip(parts, track.spread(len(parts)), strict=True):
        for stroke in glyph("valve_pieces", "felt" if part.role == "bumper" else part.role, x=x, y=y):
            figure.add(stroke.d, stroke.style, stroke.width)
        figure.keep.append((x - 13, y - 11, x + 13, y + 11))
        figure.spots[part.code] = (x, below)


def loop(figure: Figure, points: Sequence[Point], *, width: float) -> Track:
    """Draw a valve loop and return the line its stations stand on."""
    figure.add(tube(points, lambda _: width), Style.TUBE)
    return Track(points)


def split(parts: Iterable[Part], roles: set[str]) -> tuple[list[Part], list[Part]]:
    """Return the parts with one of the roles, and the rest."""
    inside: list[Part] = []
    rest: list[Part] = []
    for part in parts:
        (inside if part.role in roles else rest).append(part)
    return inside, rest


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
    """Draw a piston horn: leadpipe, tuning slide, valves with their loops, bow and bell, and one valve taken apart."""
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
    place(figure, main, groups.lead, low=0.012, high=run * 0.66, alone=0.026)
    place(figure, main, groups.tuning, low=bend, high=bend + 0.075, alone=bend)
    place(figure, main, groups.bells, low=turn, high=0.97, alone=0.96)
    figure.height = rows[2] + bell / 2 + 14
    add_pieces(figure, groups.inside, caption="One valve, taken apart")
    return figure


@dataclass(frozen=True, slots=True)
class Groups:
    """The parts of a valve horn by where they stand in its picture."""

    lead: list[Part]
    inside: list[Part]  # of a valve
    on_loop: dict[int, list[Part]]
    tuning: list[Part]
    bells: list[Part]


def grouped(parts: Sequence[Part], *, valves: int) -> Groups:
    """Sort parts by role and by the valve their words name; what fits nowhere is left for the rail."""
    lead, rest = split(parts, LEAD)
    on_loop: dict[int, list[Part]] = {}
    for part in [part for part in rest if ordinal_of(part)]:
        on_loop.setdefault(min(ordinal_of(part), valves), []).append(part)
        rest.remove(part)
    inside, rest = split(rest, VALVE_INSIDE)
    tuning, rest = split(rest, TUNING)
    bells, _ = split(rest, BELL)
    return Groups(lead=lead, inside=inside, on_loop=on_loop, tuning=tuning, bells=bells)


def stand_on_loops(figure: Figure, loops: Mapping[int, Track], groups: Groups) -> None:
    for number, mine in groups.on_loop.items():
        place(figure, loops[number], mine, low=0.42, high=0.84, alone=0.5)


def add_pieces(figure: Figure, inside: Sequence[Part], *, caption: str) -> None:
    """Add the row of a valve's pieces below the picture, if there are any."""
    if inside:
        row_of_pieces(figure, inside, y=figure.height + 34, caption=caption)
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
    w = 5.0 + heavy
    last = len(xs)
    tracks: dict[int, Track] = {}
    for i, x in enumerate(xs, start=1):
        if i == 1:
            pen = Pen(x, y + 6).to(SIDE + 52, y + 6).turn(x=SIDE + 52, y=y + 15, start=-90, sweep=-180).to(x, y + 24)
        elif i == last:
            right = figure.width - SIDE - 46
            pen = (
                Pen(x, y + 14)
                .to(right, y + 14)
                .turn(x=right, y=y + 32, start=-90, sweep=180)
                .to(x + 10, y + 50)
                .turn(x=x + 10, y=y + 40, start=90, sweep=90)
                .to(x, y + 29)
            )
        else:
            tracks[i] = hanging_loop(figure, x=x, y=y + 24, end=y + (56 if i == 2 else 66), width=w)
            continue
        tracks[i] = loop(figure, pen.points, width=w)
    return tracks


def horn(kind: Kind, parts: Sequence[Part], *, width: float) -> Figure:
    """Draw a horn: on a double the thumb valve sends the air through the F or the B flat side, each with its own loops."""
    double = kind.model is PlayingModel.DOUBLE_HORN
    figure = Figure(width=width, height=0)
    rows = (40.0, 152.0, 284.0) if double else (40.0, 120.0, 236.0)
    points = air_line(width=width, rows=rows)
    main = Track(points)
    figure.add(tube(points, bore(narrow=4.5, wide=13, bell=84, flare=0.15)), Style.TUBE)
    mouthpiece(figure, x=SIDE + 6, y=rows[0])
    middle, gap = width * 0.44, min(54.0, width * 0.14)
    xs = [middle + gap * (i - 1) for i in range(3)]
    left, right = xs[0] - gap * 0.78, xs[2] + gap * 0.86
    if not double:
        figure.keep.append((xs[-1], rows[1] - 6, width, rows[1] + 6))
    tracks = horn_sides(figure, xs, y=rows[1], left=left, right=right, double=double)

    lead, rest = split(parts, LEAD)
    inside, rest = split(rest, VALVE_INSIDE)
    slides, rest = split(rest, {"valve_slide"})
    for part in slides:
        words = f" {part.code} {part.name} ".lower().replace("_", " ")
        side = "b" if double and (" bb " in words or " b flat " in words) else "f"
        number = ordinal_of(part) or 2
        figure.spots[part.code] = tracks[f"{side}{number}"].at(0.5)
    tuning, rest = split(rest, TUNING)
    sided = [part for part in tuning if any(word in part.code for word in ("bb", "f_main", "side"))]
    tuning = [part for part in tuning if part not in sided]
    for part, share in zip(sided, (0.0, 1.0, 0.5), strict=False):
        figure.spots[part.code] = tracks["turn"].at(share)
    bells, rest = split(rest, BELL)
    run = (width - 2 * SIDE) / main.length
    place(figure, main, lead, low=0.012, high=run * 0.5)
    bend = run * 0.8
    place(figure, main, tuning, low=bend, high=bend + 0.10, alone=bend)
    place(figure, main, bells, low=0.80, high=0.965, alone=0.9625)
    figure.height = rows[2] + 42 + 16
    add_pieces(figure, inside, caption="One rotor with its linkage")
    return figure


def horn_sides(
    figure: Figure, xs: Sequence[float], *, y: float, left: float, right: float, double: bool
) -> dict[str, Track]:
    """Draw the rotors with one or two rows of loops; returns the loops by side and valve, and where the sides part."""
    tracks: dict[str, Track] = {}
    up, down = (y - 22, y + 22) if double else (y, y)
    if double:
        figure.box(x=(left + right) / 2, y=y, w=right - left, h=56, r=26, style=Style.TUBE)
        figure.box(x=(left + right) / 2, y=y, w=right - left - 13, h=43, r=20)
        figure.captions += [Caption(right + 2, up - 18, "F side"), Caption(right + 2, down + 26, "B♭ side")]
    for i, (x, size) in enumerate(zip(xs, (20.0, 12.0, 26.0), strict=True), start=1):
        if double:
            tracks[f"f{i}"] = hanging_loop(figure, x=x, y=up, end=up - 14 - size, width=5.5)
            figure.line((x, up + 12.5), (x, down - 12.5), width=2.2)
        end = down + 14 + (size * 0.7 if double else size)
        tracks[f"{'b' if double else 'f'}{i}"] = hanging_loop(figure, x=x, y=down, end=end, width=5.5)
        for level in {up, down}:
            figure.keep.append((x - 13, level - 13, x + 13, level + 13))
            rotor(figure, x=x, y=level, r=12.5)
    if double:
        rotor(figure, x=right - 1, y=y, r=11)
        tracks["turn"] = Track([(left + 3, y - 18), (left + 3, y + 18)])
    else:
        tracks["turn"] = Track([(right, y - 22), (right, y + 22)])
    return tracks


def hanging_loop(figure: Figure, *, x: float, y: float, end: float, width: float) -> Track:
    """Draw a loop that goes from a valve at (x, y) straight down to ``end`` and back, or up if that is above."""
    sweep = -180 if end > y else 180
    pen = Pen(x - 8, y).to(x - 8, end).turn(x=x, y=end, start=180, sweep=sweep).to(x + 8, y)
    return loop(figure, pen.points, width=width)


def rotor(figure: Figure, *, x: float, y: float, r: float) -> None:
    """Draw a rotor with its two ways through."""
    figure.oval(x=x, y=y, rx=r, ry=r)
    w, h = r - 3.5, r / 2
    curve = f"q{n(w)} {n(h)} {n(2 * w)} 0"
    back = f"q{n(w)} {n(-h)} {n(2 * w)} 0"
    figure.add(f"M{n(x - w)} {n(y - h)}{curve}M{n(x - w)} {n(y + h)}{back}", Style.LINE)
