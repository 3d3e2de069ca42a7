"""The trombone on paper: a long slide in front, the bell section behind it, and the F loop between them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from inventory.catalog.schema import Part
from inventory.rules.picture.brass import LEAD, SIDE, VALVE_INSIDE, air_line, loop, mouthpiece, place
from inventory.rules.picture.shapes import ROOMY, Figure, Pen, Style, Track, bore, tube

UPPER_LEG = LEAD | {"slide_lock", "barrel_cork", "hand_slide_inner", "hand_slide_outer"}
Rows = tuple[float, float, float]  # y of the upper leg, the lower leg, the bell


def slide(parts: Sequence[Part], *, width: float) -> Figure:
    """Draw a trombone: two long parallel legs and their bow, gooseneck, tuning slide and bell, the F loop if it has one."""
    rotors = _with_role(parts, VALVE_INSIDE - {"valve_spring", "felt"})
    lower = 112.0 if width > ROOMY else 88.0  # names stand between the legs where there is room for them
    rows = (40.0, lower, lower + (144.0 if rotors else 118.0))
    figure = Figure(width=width, height=rows[2] + 49)
    air = air_line(width=width, rows=rows)
    figure.add(tube(air, bore(narrow=4.5, wide=13, bell=66, flare=0.15)), Style.TUBE)
    mouthpiece(figure, x=SIDE + 6, y=rows[0])
    _stand_on_slide(figure, _slide(figure, rows=rows), parts, rows=rows)
    _stand_behind(figure, parts, rows=rows)
    attachment = _with_role(parts, {"valve_slide"})
    if rotors:
        rotors = sorted(rotors, key=lambda part: (part.role != "rotor", part.code))
        track = f_loop(figure, rows=rows, width=width)
        figure.spots[rotors[0].code] = (width * 0.37, rows[1] + 38)
        place(figure, track, rotors[1:], low=0.2, high=0.35)
        place(figure, track, attachment, low=0.5, high=0.8, alone=0.5)
    else:
        place(figure, Track(air), attachment, low=0.7, high=0.8)
    return figure


def _with_role(parts: Iterable[Part], roles: Iterable[str]) -> list[Part]:
    return [part for part in parts if part.role in roles]


def _slide(figure: Figure, *, rows: Rows) -> Track:
    """Draw the outer slide with its braces over the inner one; returns the line along it."""
    width, middle, gap = figure.width, (rows[0] + rows[1]) / 2, rows[1] - rows[0]
    begin, right = width * 0.40, width - SIDE + 8 - gap / 2
    outer = Pen(begin, rows[0]).to(right, rows[0]).turn(x=right, y=middle, start=-90, sweep=180).to(begin, rows[1])
    figure.add(tube(outer.points, lambda _: 9.5), Style.TUBE)
    for x in (width * 0.34, begin + 6):
        figure.box(x=x, y=middle, w=5, h=gap - 2, style=Style.TUBE)
    figure.box(x=width * 0.25, y=rows[1], w=9, h=13)
    figure.keep += [(0, row - 6, right, row + 6) for row in rows[:2]]
    return Track(outer.points)


def _stand_on_slide(figure: Figure, outer: Track, parts: Sequence[Part], *, rows: Rows) -> None:
    """Stand the parts of the slide: on the upper leg, at the bow, where the lower leg joins the bell section."""
    right = figure.width - SIDE + 2 - (rows[1] - rows[0]) / 2
    place(figure, Track([(SIDE + 4, rows[0]), (right, rows[0])]), _with_role(parts, UPPER_LEG))
    bow = _with_role(parts, {"bow_tube"})[:1] + _with_role(parts, {"water_key"})
    place(figure, outer, bow, low=0.5, high=0.64, alone=0.5)
    for part in _with_role(parts, {"joint_nut"})[:1]:
        figure.spots[part.code] = (figure.width * 0.25, rows[1])


def _stand_behind(figure: Figure, parts: Sequence[Part], *, rows: Rows) -> None:
    """Stand the parts of the bell section: the turn behind the player, and the bell."""
    radius = (rows[2] - rows[1]) / 2
    x = SIDE + radius - 8
    turn = Track(Pen(x, rows[1]).turn(x=x, y=rows[1] + radius, start=-90, sweep=-180).points)
    behind = _with_role(parts, {"joint_nut"})[1:] + _with_role(parts, {"bow_tube"})[1:]
    behind += _with_role(parts, {"tuning_slide"})
    place(figure, turn, behind, low=0.22, high=0.5 if len(behind) < 3 else 0.7, alone=0.5)
    edge = figure.width - SIDE
    place(figure, Track([(edge - 30, rows[2]), (edge - 6, rows[2])]), _with_role(parts, {"bell"}))


def f_loop(figure: Figure, *, rows: Rows, width: float) -> Track:
    """Draw the rotor of an F attachment and its loop between the slide and the bell."""
    y, x, right = rows[1] + 38, width * 0.37, width - SIDE - 40
    pen = Pen(x, y - 4).to(right, y - 4).turn(x=right, y=y + 12, start=-90, sweep=180).to(x, y + 28).to(x, y)
    track = loop(figure, pen.points, width=6.5)
    figure.keep += [(x, y + edge - 4, right, y + edge + 4) for edge in (-4, 28)]
    figure.line((x - 3, rows[1] + 4), (x - 3, y), width=2)
    figure.oval(x=x, y=y, rx=13, ry=13)
    return track
