"""Woodwinds on paper: a straight body with its keys, a curved saxophone, a folded bassoon."""

from __future__ import annotations

from collections.abc import Sequence

from inventory.catalog.schema import Part
from inventory.rules.picture.art import drawn
from inventory.rules.picture.shapes import Figure, Pen, Style, Track, bore, n, tube

KEYED = {"pad", "key", "octave_mech"}
JOINED = {"tenon", "socket"}
AT_NECK = {"reed", "ligature", "reed_mouthpiece", "neck_cork", "neck"}
OVERALL = {"spring", "screw", "rod", "fitting", "tone_hole", "adjusting_screw", "key_cork"}  # found all over the body


def straight(parts: Sequence[Part], *, width: float) -> Figure:
    """Draw a straight body across the page; stations stand on stems above and below it, like notes."""
    parts = [part for part in parts if part.role not in OVERALL]
    levels = 4 if len(parts) * 44 > width else 2
    figure = Figure(width=width, height=0)
    y = 118.0 if levels == 4 else 82.0
    flute = any("lip" in part.name or "crown" in part.name for part in parts)
    spots = Track([(22, y), (width - 22, y)]).spread(len(parts))
    body(figure, parts, y=y, xs=[x for x, _ in spots], flute=flute)
    offsets = (-46.0, 46.0, -88.0, 88.0) if levels == 4 else (-46.0, 46.0)
    for i, (part, (x, _)) in enumerate(zip(parts, spots, strict=True)):
        away = offsets[i % levels]
        figure.line((x, y + (9 if away > 0 else -9)), (x, y + away), width=1.1)
        if part.role in KEYED:
            figure.oval(x=x, y=y, rx=5.2, ry=5.2)
            figure.oval(x=x, y=y, rx=1.8, ry=1.8)
        figure.spots[part.code] = (x, y + away)
    figure.keep.append((0, y - 12, width, y + 12))
    figure.height = y + abs(offsets[-1]) + 30
    return figure


def body(figure: Figure, parts: Sequence[Part], *, y: float, xs: Sequence[float], flute: bool) -> None:
    """Draw the body: its outline, the rings where the joints meet, and a bent neck and bell on the low clarinets."""
    left, right = 6.0, figure.width - 6.0
    reed = next((x for part, x in zip(parts, xs, strict=True) if part.role == "reed"), None)
    if flute:
        figure.add(f"M{n(left)} {n(y - 6)}h{n(right - left)}v12h{n(left - right)}z", Style.BRASS)
        figure.oval(x=xs[min(1, len(xs) - 1)], y=y - 4, rx=13, ry=6)
        figure.oval(x=xs[min(1, len(xs) - 1)], y=y - 4, rx=4.5, ry=2.4, style=Style.WOOD)
    elif not any(part.role == "reed_mouthpiece" for part in parts):  # a double reed
        figure.line((left, y), (left + 20, y), width=3)
        figure.add(
            tube(Pen(left + 14, y).to(right, y).points, bore(narrow=9, wide=17, bell=30, flare=0.09)), Style.WOOD
        )
    else:
        beak = min(xs[min(2, len(xs) - 1)] + 8, left + 60)
        single_reed(figure, parts, y=y, left=left, beak=beak, reed=reed is not None)
    for part, x in zip(parts, xs, strict=True):
        if part.role in JOINED and x < right - 60:
            figure.box(x=x - 3, y=y, w=3, h=16 if flute else 21, r=1, style=Style.BRASS)
            figure.box(x=x + 3, y=y, w=3, h=16 if flute else 21, r=1, style=Style.BRASS)
    first = next((x for part, x in zip(parts, xs, strict=True) if part.role in KEYED), None)
    last = next((x for part, x in reversed(list(zip(parts, xs, strict=True))) if part.role in KEYED), None)
    if first is not None and last is not None:
        figure.line((first - 8, y - (8 if flute else 10.5)), (last + 8, y - (8 if flute else 10.5)), width=1.4)


def single_reed(figure: Figure, parts: Sequence[Part], *, y: float, left: float, beak: float, reed: bool) -> None:
    """Draw a single-reed body from its beak: wood or metal by its parts; with a neck, the bell of a low clarinet turns up."""
    right = figure.width - 6.0
    style = Style.BRASS if any(part.role == "body_metal" for part in parts) else Style.WOOD
    figure.add(f"M{n(left)} {n(y + 4)}L{n(beak - 18)} {n(y - 6)}H{n(beak)}V{n(y + 6)}H{n(left)}z", Style.WOOD)
    if reed:
        figure.line((left, y + 6.5), (beak - 8, y + 6.5), width=2.2)
    width = bore(narrow=14, wide=17, bell=46, flare=0.1, growth=1)
    if any(part.role == "neck" for part in parts):
        figure.add(tube(Pen(beak, y).to(beak + 30, y).points, lambda _: 8), Style.BRASS)
        low = right - 44
        turned = Pen(low, y).turn(x=low, y=y - 17, start=90, sweep=-90, squeeze=1.2).to(low + 20.4, y - 36)
        figure.add(tube(turned.points, bore(narrow=15, wide=17, bell=44, flare=0.4, growth=1)), Style.BRASS)
        figure.add(tube(Pen(beak + 28, y).to(low, y).points, lambda _: 16), style)
    else:
        figure.add(tube(Pen(beak, y).to(right, y).points, width), style)
    for dx in (-22.0, -14.0):
        figure.box(x=beak + dx, y=y, w=3, h=15, r=1, style=Style.BRASS)


def curved(parts: Sequence[Part], *, width: float) -> Figure:
    """Draw a saxophone: mouthpiece and neck, the cone down, the bow, the bell up."""
    figure = drawn("curved", ())
    apart = 110.0
    left = width * 0.5 + 23 - apart / 2
    pen = Pen(left - 112, 112).curve(c1=(left - 76, 84), c2=(left - 4, -2), end=(left, 84)).to(left, 356)
    pen.turn(x=left + apart / 2, y=356, start=180, sweep=-180).to(left + apart, 214).curve(
        c1=(left + apart, 190), c2=(left + apart + 2, 172), end=(left + apart + 7, 150)
    )
    main = Track(pen.points)
    inside = [part for part in parts if part.role not in OVERALL]
    on_neck = [part for part in inside if part.role in AT_NECK or part.code in {"neck_octave", "neck_tenon"}]
    on_body = [part for part in inside if part not in on_neck]
    down = 178 / main.length  # where the neck ends
    spots = main.spread(len(on_neck), low=0.0, high=down) + main.spread(len(on_body), low=down + 0.06, high=0.955)
    for i, (part, (x, y)) in enumerate(zip([*on_neck, *on_body], spots, strict=True)):
        shift = 0.0
        if left - 3 < x < left + 3 and 100 < y < 350:  # down the body: keys to both sides
            shift = -26.0 if i % 2 else 26.0
            figure.line((left + (4 if shift > 0 else -4), y), (left + shift, y), width=1.2)
        figure.spots[part.code] = (x + shift, y)
    return figure


def folded(parts: Sequence[Part], *, width: float) -> Figure:
    """Draw a bassoon: reed and bocal, down the wing, round the boot, up the long joint to the bell."""
    figure = drawn("folded", ())
    left, right, top, bottom = width * 0.5 - 18, width * 0.5 + 22, 150.0, 410.0
    pen = Pen(left - 96, 96).curve(c1=(left - 70, 92), c2=(left - 62, 40), end=(left - 30, 52))
    pen.curve(c1=(left - 6, 60), c2=(left, 96), end=(left, top)).to(left, bottom)
    pen.turn(x=(left + right) / 2, y=bottom, start=180, sweep=-180).to(right, 34)
    main = Track(pen.points)
    inside = [part for part in parts if part.role not in OVERALL]
    for part, share in zip(inside, spread_by_joint(inside), strict=True):
        x, y = main.at(share)
        away = -30.0 if x < (left + right) / 2 else 30.0
        if top < y <= bottom:
            figure.line((x, y), (x + away, y), width=1.2)
            x += away
        figure.spots[part.code] = (x, y)
    return figure


def spread_by_joint(parts: Sequence[Part]) -> list[float]:
    """Return where along the bore each bassoon part stands, by the joint its words name; in order where they name none."""
    places = {"reed": 0.0, "bocal": 0.12, "wing": 0.29, "boot": 0.55, "long": 0.72, "bell": 0.96}
    shares: list[float] = []
    for i, part in enumerate(parts):
        words = f"{part.code} {part.name}".lower()
        share = next((value for word, value in places.items() if word in words), i / max(1, len(parts) - 1))
        shares.append(min(1.0, max(share, shares[-1] + 0.07 if shares else 0.0)))
    return shares
