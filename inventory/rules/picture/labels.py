"""Words beside stations that never collide with a station, with each other, or with the edge of the picture."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from itertools import islice
from math import cos, hypot, pi, sin

from core.translation import gettext as _
from inventory.rules.picture.shapes import DOT_RADIUS, STATION_RADIUS, Box, Label, Point, Station
from inventory.rules.picture.signs import ORDER, station_box

SIZE = 13.0  # type size of a label
LETTER = 7.6  # an ordinary letter at that size, semi-bold, in the widest common face; the others are told apart
WIDTHS = dict.fromkeys("ijlI|,.:;'’!· ", 4.2) | dict.fromkeys("frt()-/", 5.2) | dict.fromkeys("mwMW…—%", 11.6)
LINE = 15.0
REACH = STATION_RADIUS + 6
NEAR = DOT_RADIUS + 5
EDGE = 2.0
INDENT = 12.0  # of listed words
BESIDE = 4  # places beside a station, before those away from it
MOST_LISTED = 4  # lines of listed words beside the instrument
MOST_NAMED = 2  # lines beside a part that does not stand on the instrument
ROUND = [(cos(k * pi / 8), sin(k * pi / 8)) for k in range(-8, 8)]
BRACKETS = re.compile(r" *[(][^)]*[)]")  # the list beside the picture says where exactly; here there is no room for it


def width_of(text: str) -> float:
    """Return a safe guess of how wide the text is set."""
    return sum(WIDTHS.get(letter, LETTER) for letter in text)


def wrapped(text: str, *, wide: float) -> tuple[str, ...]:
    """Break the text into lines within a width; a word is never cut, so a long one may stand out."""
    lines: list[str] = []
    for word in text.split():
        if lines and width_of(f"{lines[-1]} {word}") <= wide:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return tuple(lines)


@dataclass(slots=True)
class Sheet:
    """What is already on the page."""

    width: float
    height: float
    taken: list[Box] = field(default_factory=list)  # words, signs and the instrument
    words: list[Box] = field(default_factory=list)  # words and signs alone

    def fits(self, box: Box) -> bool:
        """Say whether the box is inside the page and free."""
        left, top, right, bottom = box
        if left < EDGE or right > self.width - EDGE or top < EDGE or bottom > self.height - EDGE:
            return False
        for a, b, c, d in self.taken:  # noqa: SIM110  # tried thousands of times: a generator takes twice as long
            if left < c and a < right and top < d and b < bottom:
                return False
        return True

    def is_clear(self, line: tuple[Point, Point]) -> bool:
        """Say whether a line runs through no words and no sign; it may run over the instrument."""
        (x1, y1), (x2, y2) = line
        steps = 1 + int(hypot(x2 - x1, y2 - y1) // 6)
        points = [(x1 + (x2 - x1) * k / steps, y1 + (y2 - y1) * k / steps) for k in range(1, steps)]
        return not any(a < x < c and b < y < d for x, y in points for a, b, c, d in self.words)


def box_at(*, x: float, top: float, anchor: str, wide: float, tall: float) -> Box:
    left = x - wide / 2 if anchor == "middle" else x - wide if anchor == "end" else x
    return (left - 3, top, left + wide + 3, top + tall)


def candidates(station: Station, *, tall: float) -> Iterable[tuple[float, float, str]]:
    """Yield places for the words as (x, top, anchor): beside the station, then ever farther away around it."""
    x, y, reach = station.x, station.y, REACH if station.group else NEAR
    yield (x + reach, y - tall / 2, "start")
    yield (x - reach, y - tall / 2, "end")
    yield (x, y - reach - tall, "middle")
    yield (x, y + reach, "middle")
    for away in range(26, 150, 14):
        for across, down in ROUND:
            anchor = "start" if across > 0.1 else "end" if across < -0.1 else "middle"
            yield (x + across * away, y + down * away - tall / 2 + down * tall / 2, anchor)


def placed_beside(station: Station, sheet: Sheet, *, text: str, far: bool) -> Label | None:
    """Return the label next to its station or, if it may stand ``far``, joined to it by a line; None where no room is."""
    shapes = list(dict.fromkeys(wrapped(text, wide=wide) for wide in (150.0, 110.0, 78.0)))
    for is_led in (False, True) if far else (False,):
        for lines in shapes:
            wide, tall = max(width_of(line) for line in lines), len(lines) * LINE
            places = islice(candidates(station, tall=tall), *((BESIDE, None) if is_led else (0, BESIDE)))
            for x, top, anchor in places:
                box = box_at(x=x, top=top, anchor=anchor, wide=wide, tall=tall)
                if sheet.fits(box) and (not is_led or sheet.is_clear(led(station, box))):
                    return label_of(station, lines, x=x, anchor=anchor, box=box, is_led=is_led)
    return None


def fits_named(name: str, *, room: float) -> bool:
    """Say whether a part's name has room beside it where the part does not stand on the instrument."""
    lines = wrapped(BRACKETS.sub("", name), wide=room)
    return len(lines) <= MOST_NAMED and max(map(width_of, lines)) <= room


def named_beside(station: Station, *, text: str, room: float) -> Label | None:
    """Return the words at the right of a station that has room for two lines there, None where they are longer."""
    lines = wrapped(text, wide=room)
    wide = max(width_of(line) for line in lines)
    if len(lines) > MOST_NAMED or wide > room:
        return None
    x, tall = station.x + (REACH if station.group else NEAR), len(lines) * LINE
    box = box_at(x=x, top=station.y - tall / 2, anchor="start", wide=wide, tall=tall)
    return label_of(station, lines, x=x, anchor="start", box=box)


def label_of(
    station: Station, lines: tuple[str, ...], *, x: float, anchor: str, box: Box, is_led: bool = False
) -> Label:
    return Label(
        code=station.code, x=x, y=box[1] + LINE - 4, anchor=anchor, lines=lines, group=station.group, box=box,
        leader=led(station, box) if is_led else None,
    )  # fmt: skip


def led(station: Station, box: Box) -> tuple[Point, Point]:
    """Return a line from the edge of a sign to the nearest point of its words."""
    left, top, right, bottom = box
    x, y = min(max(station.x, left), right), min(max(station.y, top), bottom)
    away = hypot(x - station.x, y - station.y) or 1.0
    share = min(1.0, (STATION_RADIUS + 3) / away)
    return (station.x + (x - station.x) * share, station.y + (y - station.y) * share), (x, y)


def listed(station: Station, sheet: Sheet, *, room: Box) -> Label | None:
    """Return the words headed by the station's number, as high in a room as they are free, None where they do not fit."""
    left, top, right, bottom = room
    lines = wrapped(f"{station.number}  {words_of(station, is_off=True)}", wide=right - left - 2 * INDENT)
    wide, tall = max(map(width_of, lines)), len(lines) * LINE
    if wide > right - left - 2 * INDENT or len(lines) > MOST_LISTED:
        return None
    x = left + INDENT
    for y in range(int(top) + 4, int(bottom - tall) - 3, 4):
        box = box_at(x=x, top=y, anchor="start", wide=wide, tall=tall)
        if sheet.fits((box[0], box[1] - 4, box[2], box[3] + 4)):
            return label_of(station, lines, x=x, anchor="start", box=box)
    return None


def below(station: Station, *, y: float, width: float) -> Label:
    """Return the same under the picture."""
    lines = wrapped(f"{station.number}  {words_of(station, is_off=True)}", wide=width - 2 * INDENT)
    box = box_at(x=INDENT, top=y + 4, anchor="start", wide=max(map(width_of, lines)), tall=len(lines) * LINE)
    return label_of(station, lines, x=INDENT, anchor="start", box=box)


def labelled(
    stations: Sequence[Station],
    *,
    taken: Sequence[Box],
    named: Mapping[str, float],
    off: AbstractSet[str],
    page: tuple[float, float],
    lists: Sequence[Box] = (),
    grows: bool = True,
) -> tuple[tuple[Label, ...], float]:
    """Return the labels and the height of the picture, which grows when some words have to stand below it.

    Every station with a sign gets its words: beside it, or in a list headed by its number, in one of the places for
    ``lists``, else under the picture. ``named`` parts (code -> room) say their name too, as they do not stand on the
    instrument; nor do those that are ``off``.
    """
    width, height = page
    signs = [station_box(station) for station in stations if station.group]
    dots = [station_box(station) for station in stations if not station.group]
    sheet = Sheet(width=width, height=height, taken=[*taken, *signs, *dots], words=signs)
    labels: list[Label] = []
    left_over: list[Station] = []
    for station in sorted(stations, key=lambda s: (s.code not in named, ORDER[s.group], s.number)):
        if station.group is None and station.code not in named:
            continue
        text = words_of(station, is_off=station.code in off)
        label = (
            named_beside(station, text=text, room=named[station.code])
            if station.code in named
            else placed_beside(station, sheet, text=text, far=station.code not in off)
        )
        if label is not None:
            labels.append(label)
            sheet.taken.append(label.box)
            sheet.words.append(label.box)
        elif station.group:
            left_over.append(station)
    sheet.height = max([height, *(bottom for *_, bottom in lists)])
    end = height
    for station in sorted(left_over, key=lambda s: s.number):
        rooms = (listed(station, sheet, room=room) for room in lists)
        label = next(filter(None, rooms), None)
        if label is None and grows:
            label = below(station, y=end, width=width)
        if label:
            end = max(end, label.box[3])
            labels.append(label)
            sheet.taken.append(label.box)
    return tuple(labels), (end + 4 if end > height else height)


def words_of(station: Station, *, is_off: bool) -> str:
    """Return what stands beside a station; the list beside the picture says where exactly a part is."""
    name = BRACKETS.sub("", station.name)
    if station.group is None:
        return name
    return _("%(part)s: %(finding)s", part=name, finding=station.text) if is_off else station.text
