"""Signs that never lie on each other: where parts stand closer than their signs are wide, one sign gives way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from math import hypot

from inventory.rules.picture.shapes import DOT_RADIUS, STATION_RADIUS, Box, Point, Station
from inventory.rules.verdict import EffectGroup

ORDER = {EffectGroup.STOPS: 0, EffectGroup.LIMITS: 1, EffectGroup.LOOKS: 2, None: 3}
STEP, FAR = 4, 240
AWAY = sorted(product(range(-FAR, FAR + 1, STEP), repeat=2), key=lambda way: (hypot(*way), way))


def station_box(station: Station, *, growth: float = 1.0) -> Box:
    """Return the room of a sign, drawn larger by ``growth``, or of the dot of a part without a finding."""
    return _box(station.x, station.y, _reach(station, growth))


def _reach(station: Station, growth: float) -> float:
    sign = 15.0 if station.group is EffectGroup.LIMITS else 13.0
    return sign * growth if station.group else DOT_RADIUS + 1.5


def _box(x: float, y: float, reach: float) -> Box:
    return (x - reach, y - reach, x + reach, y + reach)


def overlaps(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def apart(stations: Sequence[Station], *, page: tuple[float, float], growth: float = 1.0) -> tuple[Station, ...]:
    """Return the stations with each sign in the nearest free place on the page; the gravest stay where their parts are.

    Signs also leave room to touch for the parts without one. Where a sign ends up beside its part, ``spot`` says where
    that is.
    """
    dots = [(station.x, station.y) for station in stations if not station.group]
    placed: dict[str, Station] = {}
    taken: list[Box] = []
    for station in sorted((one for one in stations if one.group), key=lambda one: (ORDER[one.group], one.number)):
        placed[station.code] = _in_free_place(station, taken, dots, page=page, growth=growth)
        taken.append(station_box(placed[station.code], growth=growth))
    return tuple(placed.get(station.code, station) for station in stations)


def _in_free_place(
    station: Station, taken: Sequence[Box], dots: Sequence[Point], *, page: tuple[float, float], growth: float
) -> Station:
    reach = _reach(station, growth)
    for across, down in AWAY:
        x, y = station.x + across, station.y + down
        box = _box(x, y, reach)
        if box[0] < 0 or box[1] < 0 or box[2] > page[0] or box[3] > page[1] or any(overlaps(box, one) for one in taken):
            continue
        if growth == 1.0 and (across or down) and any(hypot(x - a, y - b) < 2 * STATION_RADIUS for a, b in dots):
            continue
        is_beside = hypot(across, down) > STATION_RADIUS * growth
        return replace(station, x=x, y=y, spot=(station.x, station.y) if is_beside else None)
    return station
