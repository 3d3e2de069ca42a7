"""Clefs and accidentals drawn with a broad pen: paths of our own, in staff spaces around the line the clef names."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import pairwise
from math import cos, pi, sin

from inventory.rules.picture.shapes import Pen, Point, n, polyline, tube

Shape = tuple[str, ...]  # paths to be filled


def scaled(points: Sequence[Point], *, x: float, y: float, space: float) -> list[Point]:
    return [(x + px * space, y + py * space) for px, py in points]


def ball(*, x: float, y: float, r: float) -> str:
    return f"M{n(x - r)} {n(y)}a{n(r)} {n(r)} 0 1 0 {n(2 * r)} 0a{n(r)} {n(r)} 0 1 0 {n(-2 * r)} 0z"


def swell(*, thin: float, thick: float, turns: float, phase: float = 0.0) -> Callable[[float], float]:
    """Return a pen width that swells and thins ``turns`` times along the stroke."""
    return lambda share: thin + (thick - thin) * (0.5 - 0.5 * cos(2 * pi * (share * turns + phase)))


@lru_cache(maxsize=200)
def treble(*, x: float, y: float, space: float) -> Shape:
    """Return a G clef curling round the line at y."""
    pen = Pen(0.12, 0.42)
    pen.STEP = 0.12
    pen.curve(c1=(-0.62, 0.42), c2=(-0.62, -0.62), end=(0.12, -0.68))
    pen.curve(c1=(1.12, -0.74), c2=(1.24, 1.0), end=(0.06, 1.02))
    pen.curve(c1=(-1.3, 1.04), c2=(-1.62, -0.5), end=(-0.72, -1.42))
    pen.curve(c1=(-0.2, -2.0), c2=(0.66, -2.5), end=(0.62, -3.45))
    pen.curve(c1=(0.6, -4.05), c2=(0.36, -4.42), end=(0.2, -4.36))
    pen.curve(c1=(-0.22, -4.2), c2=(-0.3, -3.4), end=(-0.16, -2.6))
    pen.curve(c1=(0.0, -1.4), c2=(0.24, 0.4), end=(0.36, 1.5))
    pen.curve(c1=(0.48, 2.5), c2=(-0.1, 2.66), end=(-0.42, 2.36))
    stroke = tube(scaled(pen.points, x=x, y=y, space=space), lambda share: space * g_width(share))
    return (stroke, ball(x=x - 0.36 * space, y=y + 2.14 * space, r=0.3 * space))


def g_width(share: float) -> float:
    """Return the pen's width along the G clef: broad in the curls and the rising back, fine where it turns and in the stem."""
    stops = (
        (0.0, 0.1),
        (0.08, 0.2),
        (0.2, 0.34),
        (0.3, 0.2),
        (0.42, 0.32),
        (0.5, 0.16),
        (0.58, 0.2),
        (0.64, 0.1),
        (0.72, 0.3),
        (0.8, 0.16),
        (0.94, 0.16),
        (1.0, 0.1),
    )
    for (a, low), (b, high) in pairwise(stops):
        if share <= b:
            return low + (high - low) * (share - a) / (b - a)
    return stops[-1][1]


@lru_cache(maxsize=200)
def bass(*, x: float, y: float, space: float) -> Shape:
    """Return an F clef with its two dots about the line at y."""
    pen = Pen(-0.78, -0.1)
    pen.STEP = 0.12
    pen.curve(c1=(-0.72, -0.72), c2=(-0.2, -1.0), end=(0.22, -0.98))
    pen.curve(c1=(1.32, -0.94), c2=(1.3, 0.8), end=(0.42, 1.56))
    pen.curve(c1=(0.0, 1.94), c2=(-0.5, 2.24), end=(-1.02, 2.46))
    stroke = tube(
        scaled(pen.points, x=x, y=y, space=space),
        lambda share: space * (0.08 + 0.4 * sin(pi * min(1.0, share * 1.08)) ** 2),
    )
    dots = tuple(ball(x=x + 1.6 * space, y=y + dy * space, r=0.21 * space) for dy in (-0.5, 0.5))
    return (stroke, ball(x=x - 0.54 * space, y=y + 0.02 * space, r=0.34 * space), *dots)


@lru_cache(maxsize=200)
def alto(*, x: float, y: float, space: float) -> Shape:
    """Return a C clef centered on the line at y."""
    paths = [
        bar(x=x - 0.95 * space, y=y, w=0.42 * space, h=4 * space),
        bar(x=x - 0.4 * space, y=y, w=0.12 * space, h=4 * space),
    ]
    for up in (-1, 1):
        pen = Pen(-0.34, 0.0)
        pen.STEP = 0.12
        pen.curve(c1=(-0.1, up * 0.3), c2=(0.02, up * 0.5), end=(0.06, up * 0.8))
        pen.curve(c1=(0.12, up * 0.42), c2=(0.96, up * 0.42), end=(0.96, up * 1.2))
        pen.curve(c1=(0.96, up * 2.06), c2=(0.2, up * 2.1), end=(0.06, up * 1.62))
        paths.append(
            tube(
                scaled(pen.points, x=x, y=y, space=space),
                swell(thin=0.1 * space, thick=0.36 * space, turns=1, phase=-0.12),
            )
        )
        paths.append(ball(x=x + 0.2 * space, y=y + up * 1.5 * space, r=0.25 * space))
    return tuple(paths)


def neutral(*, x: float, y: float, space: float) -> Shape:
    """Return the two bars of music without pitch, centered on the line at y."""
    return (
        bar(x=x - 0.4 * space, y=y, w=0.42 * space, h=2 * space),
        bar(x=x + 0.4 * space, y=y, w=0.42 * space, h=2 * space),
    )


def bar(*, x: float, y: float, w: float, h: float) -> str:
    left, right, top, bottom = x - w / 2, x + w / 2, y - h / 2, y + h / 2
    return polyline([(left, top), (right, top), (right, bottom), (left, bottom)], closed=True)


def sharp(*, x: float, y: float, space: float) -> Shape:
    s = space
    slanted = [
        polyline(
            [
                (x - 0.5 * s, y + dy * s + 0.2 * s),
                (x + 0.5 * s, y + dy * s - 0.16 * s),
                (x + 0.5 * s, y + dy * s + 0.14 * s),
                (x - 0.5 * s, y + dy * s + 0.5 * s),
            ],
            closed=True,
        )
        for dy in (-0.64, 0.3)
    ]
    return (
        *slanted,
        bar(x=x - 0.22 * s, y=y + 0.06 * s, w=0.14 * s, h=2.6 * s),
        bar(x=x + 0.22 * s, y=y - 0.06 * s, w=0.14 * s, h=2.6 * s),
    )


def flat(*, x: float, y: float, space: float) -> Shape:
    s = space
    bowl = (
        f"M{n(x - 0.36 * s)} {n(y - 0.2 * s)}C{n(x + 0.1 * s)} {n(y - 0.78 * s)} {n(x + 0.74 * s)} {n(y - 0.4 * s)} {n(x + 0.4 * s)} {n(y + 0.12 * s)}"
        f"C{n(x + 0.2 * s)} {n(y + 0.42 * s)} {n(x - 0.1 * s)} {n(y + 0.6 * s)} {n(x - 0.36 * s)} {n(y + 0.86 * s)}z"
        f"M{n(x - 0.22 * s)} {n(y + 0.42 * s)}C{n(x + 0.1 * s)} {n(y + 0.1 * s)} {n(x + 0.22 * s)} {n(y - 0.34 * s)} {n(x - 0.02 * s)} {n(y - 0.3 * s)}"
        f"C{n(x - 0.12 * s)} {n(y - 0.26 * s)} {n(x - 0.22 * s)} {n(y - 0.14 * s)} {n(x - 0.22 * s)} {n(y + 0.42 * s)}z"
    )
    return (bowl, bar(x=x - 0.36 * s, y=y - 0.7 * s, w=0.15 * s, h=3.1 * s))


CLEFS: dict[str, Callable[..., Shape]] = {"treble": treble, "bass": bass, "alto": alto, "neutral": neutral}
ACCIDENTALS = {"#": sharp, "b": flat}
