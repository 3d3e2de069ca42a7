"""The trombone on paper: a long slide in front, the bell section behind it, and the F loop between them."""

from __future__ import annotations

from collections.abc import Sequence

from inventory.catalog.schema import Kind, Part
from inventory.rules.picture.brass import LEAD, SIDE, VALVE_INSIDE, air_line, loop, mouthpiece, place
from inventory.rules.picture.shapes import ROOMY, Figure, Pen, Style, Track, bore, tube


def slide(kind: Kind, parts: Sequence[Part], *, width: float) -> Figure:
    """Draw a trombone: two long parallel tubes and their bow, gooseneck, tuning slide and bell, with the F loop if there is one."""
    del kind
    figure = Figure(width=width, height=0)
    rotors = [part for part in parts if part.role in VALVE_INSIDE - {"valve_spring", "felt"}]
    low = 112.0 if width > ROOMY else 88.0  # names stand between the legs of the slide where there is room for them
    rows = (40.0, low, low + (144.0 if rotors else 118.0))
    points = air_line(width=width, rows=rows)
    main = Track(points)
    figure.add(tube(points, bore(narrow=4.5, wide=13, bell=66, flare=0.15)), Style.TUBE)
    mouthpiece(figure, x=SIDE + 6, y=rows[0])
    right = width - SIDE + 8 - (rows[1] - rows[0]) / 2
    begin = width * 0.40
    outer = Pen(begin, rows[0]).to(right, rows[0]).turn(x=right, y=(rows[0] + rows[1]) / 2, start=-90, sweep=180)
    figure.add(tube(outer.to(begin, rows[1]).points, lambda _: 9.5), Style.TUBE)
    for x in (width * 0.34, begin + 6):
        figure.box(x=x, y=(rows[0] + rows[1]) / 2, w=5, h=rows[1] - rows[0] - 2, r=2, style=Style.TUBE)
    figure.box(x=width * 0.25, y=rows[1], w=9, h=13, r=2, style=Style.PART)
    figure.keep += [(0, row - 6, right, row + 6) for row in rows[:2]]
    loop_track = f_loop(figure, rows=rows, width=width) if rotors else None

    bows = [part for part in parts if part.role == "bow_tube"]
    upper = [
        part
        for part in parts
        if part.role in LEAD | {"slide_lock", "barrel_cork", "hand_slide_inner", "hand_slide_outer"}
    ]
    turn = [*bows[:1]] + [part for part in parts if part.role == "water_key"]
    back = [part for part in parts if part.role == "joint_nut"] + bows[1:]
    tuning = [part for part in parts if part.role == "tuning_slide"]
    bells = [part for part in parts if part.role == "bell"]
    attachment = [part for part in parts if part.role == "valve_slide"]
    top = Track([(SIDE + 4, rows[0]), (right - 6, rows[0])])
    place(figure, top, upper, low=0.0, high=1.0)
    place(figure, Track(outer.points), turn, low=0.5, high=0.64) if len(turn) > 1 else place(
        figure, Track(outer.points), turn, low=0.5, high=0.5
    )
    place(figure, Track([(width * 0.25, rows[1]), (width * 0.25 - 30, rows[1])]), back[:1], low=0.0, high=0.0)
    radius = (rows[2] - rows[1]) / 2
    rear = Pen(SIDE + radius - 8, rows[1]).turn(x=SIDE + radius - 8, y=rows[1] + radius, start=-90, sweep=-180)
    behind = [*back[1:], *tuning]
    place(
        figure, Track(rear.points), behind, low=0.22 if len(behind) > 1 else 0.5, high=0.5 if len(behind) < 3 else 0.7
    )
    place(figure, Track([(width - SIDE - 30, rows[2]), (width - SIDE - 6, rows[2])]), bells)
    if loop_track is not None:
        valves, attachments = sorted(rotors, key=lambda part: (part.role != "rotor", part.code)), attachment
        place(
            figure, Track([(width * 0.37, rows[1] + 38), (width * 0.37 + 40, rows[1] + 38)]), valves[:1], low=0, high=0
        )
        place(figure, loop_track, valves[1:], low=0.2, high=0.35)
        place(figure, loop_track, attachments, low=0.5, high=0.5 if len(attachments) == 1 else 0.8)
    elif attachment:
        place(figure, main, attachment, low=0.7, high=0.8)
    figure.height = rows[2] + 33 + 16
    return figure


def f_loop(figure: Figure, *, rows: tuple[float, float, float], width: float) -> Track:
    """Draw the rotor of an F attachment and its loop between the slide and the bell."""
    y, x, right = rows[1] + 38, width * 0.37, width - SIDE - 40
    pen = Pen(x, y - 4).to(right, y - 4).turn(x=right, y=y + 12, start=-90, sweep=180).to(x, y + 28).to(x, y)
    track = loop(figure, pen.points, width=6.5)
    figure.keep += [(x, y + edge - 4, right, y + edge + 4) for edge in (-4, 28)]
    figure.line((x - 3, rows[1] + 4), (x - 3, y), width=2)
    figure.oval(x=x, y=y, rx=13, ry=13)
    return track
