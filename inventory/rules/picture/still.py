"""What no air goes through: drums, kettles, bars and strings, drawn plainly, with a station at each part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import cos, pi, sin

from inventory.catalog.schema import Kind, Part
from inventory.rules.picture.shapes import Caption, Figure, Point, Style, n, polyline


def settle(figure: Figure, parts: Sequence[Part], anchors: Mapping[str, Sequence[Point]]) -> None:
    """Stand each part on the next free anchor of its role; what has none is left for the rail."""
    used: dict[str, int] = {}
    for part in parts:
        spots = anchors.get(part.role, ())
        i = used.get(part.role, 0)
        if i < len(spots):
            figure.spots[part.code] = spots[i]
            used[part.role] = i + 1


def drum(kind: Kind, parts: Sequence[Part], *, width: float) -> Figure:
    """Draw a drum twice: the head from above with its lugs, and the shell from the side with its wires."""
    figure = Figure(width=width, height=236)
    x, y, r = width * 0.28, 116.0, min(76.0, width * 0.235)
    lugs = 8
    figure.oval(x=x, y=y, rx=r, ry=r, style=Style.TUBE)
    figure.oval(x=x, y=y, rx=r - 8, ry=r - 8, style=Style.PART)
    for i in range(lugs):
        a = 2 * pi * (i + 0.5) / lugs
        figure.box(x=x + (r + 4) * cos(a), y=y + (r + 4) * sin(a), w=9, h=9, r=3, style=Style.PART)
    figure.captions.append(Caption(x, 18, "from above", "middle"))
    side_x, side_y, w, h = width * 0.76, 116.0, min(132.0, width * 0.38), 78.0
    figure.captions.append(Caption(side_x, 18, "from the side", "middle"))
    figure.box(x=side_x, y=side_y, w=w - 8, h=h, r=2, style=Style.WOOD)
    figure.box(x=side_x, y=side_y - h / 2, w=w, h=12, r=4, style=Style.TUBE)
    figure.box(x=side_x, y=side_y + h / 2, w=w, h=12, r=4, style=Style.TUBE)
    for i in range(4):
        lx = side_x - w / 2 + 16 + i * (w - 32) / 3
        figure.line((lx, side_y - h / 2), (lx, side_y + h / 2), width=1.6)
        figure.box(x=lx, y=side_y, w=7, h=20, r=3)
    wires = any(part.role == "snare_wires" for part in parts)
    if wires:
        for i in range(5):
            figure.line(
                (side_x - w / 2 + 8, side_y + h / 2 + 9 + i * 1.8),
                (side_x + w / 2 - 8, side_y + h / 2 + 9 + i * 1.8),
                style=Style.FAINT,
                width=0.8,
            )
    if any(part.role == "plate" for part in parts):
        figure.oval(x=width * 0.5 + 8, y=40, rx=26, ry=6, style=Style.TUBE)
    a = 2 * pi * 0.5 / lugs
    settle(
        figure,
        parts,
        {
            "head": ((x, y), (side_x - w * 0.3, side_y + h / 2 + 2)),
            "hoop": (
                (x - (r - 4) * cos(pi / 4) + 2, y - (r - 4) * sin(pi / 4) + 2),
                (side_x + w * 0.3, side_y - h / 2),
            ),
            "lug": ((x + (r + 4) * cos(a), y - (r + 4) * sin(a)), (side_x - w / 2 + 16, side_y)),
            "shell": ((side_x, side_y - 6), (side_x - w * 0.3, side_y - h / 2)),
            "snare_wires": ((side_x + w * 0.08, side_y + h / 2 + 16),),
            "strainer": ((side_x + w / 2, side_y + 12),),
            "plate": ((width * 0.5 + 8, 40),),
            "drum_pedal": ((width * 0.5, y + 88),),
        },
    )
    del kind
    return figure


def plates(kind: Kind, parts: Sequence[Part], *, width: float) -> Figure:
    """Draw a pair of cymbals with their straps."""
    del kind
    figure = Figure(width=width, height=206)
    y, r = 102.0, 80.0
    for x in (width / 2 + 56, width / 2 - 56):
        for radius in (r, r * 0.8, r * 0.6):
            figure.oval(x=x, y=y, rx=radius, ry=radius, style=Style.TUBE if radius == r else Style.LINE, width=1.0)
        figure.oval(x=x, y=y, rx=r * 0.34, ry=r * 0.34, style=Style.PART)
        figure.add(f"M{n(x - 9)} {n(y + 6)}q9 -22 18 0q-9 12 -18 0z", Style.WOOD)
    settle(figure, parts, {"plate": ((width / 2 - 100, y - 38),), "cord": ((width / 2 + 56, y + 24),)})
    return figure


def kettle(kind: Kind, parts: Sequence[Part], *, width: float) -> Figure:
    """Draw one kettledrum from the side: head, hoop and rods, bowl, pedal, gauge."""
    del kind
    figure = Figure(width=width, height=300)
    x, top, r = width * 0.5, 74.0, 104.0
    figure.add(
        f"M{n(x - r)} {n(top)}C{n(x - r)} {n(top + 104)} {n(x - r * 0.5)} {n(top + 132)} {n(x)} {n(top + 132)}"
        f"C{n(x + r * 0.5)} {n(top + 132)} {n(x + r)} {n(top + 104)} {n(x + r)} {n(top)}z",
        Style.TUBE,
    )
    figure.box(x=x, y=top - 3, w=2 * r + 18, h=10, r=4, style=Style.PART)
    figure.line((x - r, top - 10), (x + r, top - 10), width=2.4)
    for i in range(6):
        lx = x - r + 2 + i * (2 * r - 4) / 5
        figure.line((lx, top - 8), (lx, top + 24), width=1.6)
        figure.box(x=lx, y=top - 12, w=5, h=7, r=2, style=Style.TUBE)
    for side in (-1, 1):
        figure.line((x + side * 66, top + 104), (x + side * 86, top + 196), width=2.2)
        figure.oval(x=x + side * 86, y=top + 202, rx=6, ry=6)
    figure.line((x, top + 132), (x, top + 190), width=2.2)
    figure.add(
        polyline([(x - 8, top + 186), (x + 30, top + 202), (x + 28, top + 208), (x - 10, top + 196)], closed=True),
        Style.PART,
    )
    figure.add(f"M{n(x + r + 14)} {n(top - 8)}v-26a34 34 0 0 1 34 34z", Style.PART)
    settle(
        figure,
        parts,
        {
            "head": ((x, top - 14),),
            "hoop": ((x - r - 2, top + 2),),
            "lug": ((x - r * 0.6, top + 24),),
            "shell": ((x - 10, top + 74), (x + r * 0.62, top + 14)),
            "pedal": ((x + 10, top + 200),),
            "tuning_gauge": ((x + r + 26, top - 22),),
        },
    )
    return figure


def bars(kind: Kind, parts: Sequence[Part], *, width: float) -> Figure:
    """Draw bars from above, low notes to the left, with cord, posts and resonators below."""
    del kind
    tubes = any(part.role == "resonator" for part in parts)
    figure = Figure(width=width, height=262 if tubes else 212)
    left, right, count = 24.0, width - 24.0, 15
    step = (right - left) / count
    figure.line((left - 12, 118), (right + 12, 128), style=Style.FAINT, width=1.2)
    figure.line((left - 12, 176), (right + 12, 158), style=Style.FAINT, width=1.2)
    for i in range(count):
        x = left + step * (i + 0.5)
        tall = 84 - i * 3.1
        figure.box(x=x, y=146, w=step - 3, h=tall, r=2, style=Style.TUBE)
        if i % 7 not in {2, 6} and i < count - 1:
            figure.box(x=x + step / 2, y=66, w=step - 4, h=tall * 0.72, r=2, style=Style.TUBE)
        if tubes:
            figure.box(x=x, y=214 - i * 1.2, w=step * 0.55, h=40 - i * 2.0, r=3, style=Style.PART)
    figure.line((left - 12, 50), (right + 12, 58), style=Style.FAINT, width=1.2)
    figure.line((left - 12, 82), (right + 12, 76), style=Style.FAINT, width=1.2)
    settle(
        figure,
        parts,
        {
            "bar": ((left + step * 3.5, 146), (left + step * 5, 64)),
            "cord": ((left - 8, 120), (right + 4, 127)),
            "bar_post": ((right + 2, 70), (left - 6, 66)),
            "resonator": ((left + step * 7.5, 212),),
            "damper": ((left + step * 11.5, 176),),
            "motor": ((right - 4, 176),),
        },
    )
    return figure


def strings(kind: Kind, parts: Sequence[Part], *, width: float) -> Figure:
    """Draw a string instrument lying across the page, scroll to the right, and its bow."""
    del kind
    figure = Figure(width=width, height=248)
    y = 108.0
    s = min(width, 420.0) / 328
    ox = (width - 328 * s) / 2

    def at(x: float, dy: float) -> Point:
        return (ox + x * s, y + dy)

    def p(x: float, dy: float) -> str:
        px, py = at(x, dy)
        return f"{n(px)} {n(py)}"

    figure.add(
        f"M{p(14, 0)}C{p(12, -50)} {p(52, -68)} {p(84, -56)}C{p(98, -50)} {p(100, -34)} {p(116, -34)}"
        f"C{p(130, -34)} {p(132, -48)} {p(150, -48)}C{p(176, -46)} {p(184, -24)} {p(184, 0)}"
        f"C{p(184, 24)} {p(176, 46)} {p(150, 48)}C{p(132, 48)} {p(130, 34)} {p(116, 34)}"
        f"C{p(100, 34)} {p(98, 50)} {p(84, 56)}C{p(52, 68)} {p(12, 50)} {p(14, 0)}z",
        Style.TUBE,
    )
    figure.box(x=ox + 214 * s, y=y, w=148 * s, h=13, r=2, style=Style.WOOD)
    figure.add(f"M{p(284, -9)}h{n(16 * s)}q{n(14 * s)} 0 {n(14 * s)} 9t{n(-14 * s)} 9h{n(-16 * s)}z", Style.TUBE)
    for dx, dy in ((-18, 13), (-8, -13), (2, 13), (10, -13)):
        figure.line(at(300 + dx, dy * 0.6), at(300 + dx, dy * 1.5), width=2.4)
    figure.add(f"M{p(22, -5)}L{p(66, -9)}V{n(y + 9)}L{p(22, 5)}z", Style.WOOD)
    for i in range(4):
        figure.line(at(64, -6 + i * 4), at(288, -4.5 + i * 3), style=Style.FAINT, width=0.9)
    figure.box(x=ox + 100 * s, y=y, w=5, h=34, r=2, style=Style.PART)
    for side in (-1, 1):
        figure.add(f"M{p(112, side * 24)}q{n(-10 * s)} {n(side * -6)} {n(-26 * s)} 0", Style.FAINT, 1.6)
    figure.line(at(18, 92), at(304, 92), width=2.4)
    figure.line(at(26, 99), at(300, 97), style=Style.FAINT, width=1)
    figure.box(x=ox + 36 * s, y=y + 98, w=18, h=9, r=2, style=Style.WOOD)
    settle(
        figure,
        parts,
        {
            "peg": (at(302, 0),),
            "fingerboard": (at(226, 0),),
            "string": (at(140, 0),),
            "bridge": (at(100, -14),),
            "soundpost": (at(94, 24),),
            "seam": (at(56, -44), at(150, 40)),
            "fitting": (at(40, 0),),
            "bow": (at(190, 92),),
        },
    )
    return figure
