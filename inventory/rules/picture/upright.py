"""Low piston brass on paper, as it is held: valves in the middle, the bow at the bottom, the bell up or over the head."""

from __future__ import annotations

from collections.abc import Sequence

from core.translation import gettext as _
from inventory.catalog.schema import Kind, Part
from inventory.rules.picture.brass import (
    Groups,
    add_pieces,
    grouped,
    hanging_loop,
    mouthpiece,
    stand_on_loops,
    valve,
    valve_count,
    weight_of,
)
from inventory.rules.picture.shapes import Figure, Pen, Style, Track, bore, tube

FRAME = 328.0  # the instrument itself is never stretched: a wider page leaves room for words
DEPTH = {1: 44.0, 2: 24.0, 3: 74.0, 4: 96.0}  # how far a loop hangs below its valve, longer for more semitones


def upright(kind: Kind, parts: Sequence[Part], *, width: float) -> Figure:
    """Draw an instrument held upright; one with tuning bits goes round the player and has its bell over the head."""
    worn = any(part.code == "neck_and_tuning_bits" for part in parts)
    figure = Figure(width=width, height=0)
    x, y = (width - FRAME) / 2, 152.0 if worn else 116.0
    heavy, right, base = weight_of(kind), (width - FRAME) / 2 + 268, y + 196
    left, row = x + 34, y + 62
    pen = Pen(x + 32, y).to(x + 196, y).turn(x=x + 196, y=y + 31, start=-90, sweep=180).to(left + 30, row)
    pen.turn(x=left + 30, y=row + 30, start=-90, sweep=-90).to(left, base)
    pen.turn(x=(left + right) / 2, y=base, start=180, sweep=-180)
    into_valves = 164 + 97 + 132
    if worn:
        pen.to(right, 118).turn(x=right - 50, y=118, start=0, sweep=-90).to(right - 84, 68)
    else:
        pen.to(right, 22)
    main = Track(pen.points)
    width_at = bore(narrow=5, wide=12 + 12 * heavy, bell=104 if worn else 112, flare=0.10 if worn else 0.13, growth=1.7)
    figure.add(tube(pen.points, width_at), Style.TUBE)
    mouthpiece(figure, x=x + 32, y=y)

    count = valve_count(kind)
    gap, first = (42.0, x + 88) if count < len(DEPTH) else (36.0, x + 76)
    xs = [first + gap * i for i in range(count)]
    loops: dict[int, Track] = {}
    for number, at in enumerate(xs, start=1):
        end = row + 30 + DEPTH[number]
        loops[number] = hanging_loop(figure, x=at, y=row + 24, end=end, width=5.5 + heavy)
    for at in xs:
        valve(figure, x=at, y=row)
    groups = grouped(parts, valves=count)
    stand_on_loops(figure, loops, groups)
    stand_on_line(figure, main, groups, into_valves=into_valves / main.length)
    figure.height = base + (right - left) / 2 + (12 + 12 * heavy) / 2 + 8
    add_pieces(figure, groups.inside, caption=_("One valve, taken apart"))
    return figure


def stand_on_line(figure: Figure, main: Track, groups: Groups, *, into_valves: float) -> None:
    """Stand the parts before the valves and after them on the main line."""
    bend, after = (164 + 46) / main.length, into_valves + (1 - into_valves) * 0.42
    figure.place(main, groups.lead, low=0.008, high=150 / main.length)
    figure.place(main, groups.tuning, low=bend, high=bend + 38 / main.length, alone=bend)
    figure.place(main, groups.bells, low=after, high=0.97, alone=0.96)
