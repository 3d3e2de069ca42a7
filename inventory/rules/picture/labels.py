"""Words beside stations that never collide with a station, with each other, or with the edge of the picture."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from inventory.rules.picture.shapes import STATION_RADIUS, Box, Caption, Label, Station
from inventory.rules.verdict import EffectGroup

SIZE = 11.5  # type size of a label
LETTER = 7.9  # an ordinary letter at that size, semi-bold, in the widest common face; the others are told apart
WIDTHS = dict.fromkeys("ijlI|,.:;'’!· ", 4.4) | dict.fromkeys("frt()-/", 5.8) | dict.fromkeys("mwMW…—%", 11.9)
LINE = 13.0
REACH = STATION_RADIUS + 4
EDGE = 2.0
BRACKETS = re.compile(r" *[(][^)]*[)]")  # the list beside the picture says where exactly; here there is no room for it
ORDER = {EffectGroup.STOPS: 0, EffectGroup.LIMITS: 1, EffectGroup.LOOKS: 2}


def width_of(text: str) -> float:
    """Return a safe guess of how wide the text is set."""
    return sum(WIDTHS.get(letter, LETTER) for letter in text)


def wrapped(text: str, *, letters: int, lines: int = 3) -> tuple[str, ...]:
    """Break the text into lines of about ``letters``; what does not fit is cut with an ellipsis."""
    out: list[str] = [""]
    for word in text.split():
        piece = word if len(word) <= letters else f"{word[: letters - 1]}…"
        joined = f"{out[-1]} {piece}".strip()
        if len(joined) <= letters or not out[-1]:
            out[-1] = joined
        elif len(out) < lines:
            out.append(piece)
        else:
            out[-1] = f"{out[-1][: letters - 1].rstrip()}…"
            break
    return tuple(out)


def overlaps(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def station_box(station: Station) -> Box:
    reach = STATION_RADIUS + (3.5 if station.group is EffectGroup.LIMITS else 1.5)
    return (station.x - reach, station.y - reach, station.x + reach, station.y + reach)


@dataclass(slots=True)
class Sheet:
    """What is already on the page."""

    width: float
    height: float
    taken: list[Box] = field(default_factory=list)
    keep: Sequence[Box] = ()

    def fits(self, box: Box, *, strict: bool) -> bool:
        """Say whether the box is inside the page and free; strictly: also clear of what is drawn. Tried thousands of times."""
        left, top, right, bottom = box
        if left < EDGE or right > self.width - EDGE or top < EDGE or bottom > self.height - EDGE:
            return False
        for a, b, c, d in self.taken:
            if left < c and a < right and top < d and b < bottom:
                return False
        if strict:
            for a, b, c, d in self.keep:
                if left < c and a < right and top < d and b < bottom:
                    return False
        return True


def box_at(*, x: float, top: float, anchor: str, wide: float, tall: float) -> Box:
    left = x - wide / 2 if anchor == "middle" else x - wide if anchor == "end" else x
    return (left - 3, top, left + wide + 3, top + tall)


def candidates(station: Station, lines: tuple[str, ...]) -> Iterable[tuple[float, float, str]]:
    """Yield places for the words as (x, top, anchor), the nearest and calmest first."""
    x, y, tall = station.x, station.y, len(lines) * LINE
    for reach in (REACH, REACH + 12):
        yield (x, y + reach, "middle")
        yield (x, y - reach - tall, "middle")
        yield (x + reach + 2, y - tall / 2, "start")
        yield (x - reach - 2, y - tall / 2, "end")
        for shift in (-10.0, 10.0):
            anchor = "start" if shift < 0 else "end"
            yield (x + shift, y + reach, anchor)
            yield (x + shift, y - reach - tall, anchor)
        for shift in (-28.0, 28.0, -48.0, 48.0):
            yield (x + shift, y + reach, "middle")
            yield (x + shift, y - reach - tall, "middle")


def placed_beside(station: Station, sheet: Sheet, *, text: str, must: bool) -> Label | None:
    """Return the label next to its station, or None where there is no room for it.

    It stands clear of the valves and keys drawn; one that ``must`` be there may cover them when nothing else is left.
    """
    one_line = wrapped(text, letters=26)
    shapes = ([one_line] if len(one_line) == 1 else []) + [wrapped(text, letters=15), wrapped(text, letters=11)]
    for strict in (True, False) if must else (True,):
        for lines in shapes:
            wide = max(width_of(line) for line in lines)
            for x, top, anchor in candidates(station, lines):
                box = box_at(x=x, top=top, anchor=anchor, wide=wide, tall=len(lines) * LINE)
                if sheet.fits(box, strict=strict):
                    sheet.taken.append(box)
                    y = top + LINE - 3
                    return Label(code=station.code, x=x, y=y, anchor=anchor, lines=lines, group=station.group, box=box)
    return None


def labelled(
    stations: Sequence[Station],
    captions: Sequence[Caption],
    *,
    keep: Sequence[Box],
    width: float,
    height: float,
    names: bool,
) -> tuple[tuple[Label, ...], float]:
    """Return the labels and the height of the picture, which grows when some words have to stand below it.

    Every station with a sign gets its words: beside it, or in a list under the picture headed by its number.
    With ``names`` the other stations get their part's name where there is room.
    """
    sheet = Sheet(width=width, height=height, keep=keep)
    sheet.taken += [station_box(station) for station in stations]
    sheet.taken += [caption.box for caption in captions]
    labels: list[Label] = []
    left_over: list[Station] = []
    for station in sorted(
        (s for s in stations if s.group), key=lambda s: (ORDER[s.group or EffectGroup.LOOKS], s.number)
    ):
        label = placed_beside(station, sheet, text=station.text, must=True)
        if label is None:
            left_over.append(station)
        else:
            labels.append(label)
    if names:
        plain = (
            placed_beside(s, sheet, text=BRACKETS.sub("", s.name), must=False) for s in stations if s.group is None
        )
        labels += [label for label in plain if label is not None]
    y = height + 4
    for station in sorted(left_over, key=lambda s: s.number):
        lines = wrapped(f"{station.number}  {station.text}", letters=int((width - 24) / LETTER), lines=2)
        box = box_at(x=12, top=y, anchor="start", wide=max(map(width_of, lines)), tall=len(lines) * LINE)
        labels.append(
            Label(code=station.code, x=12, y=y + LINE - 3, anchor="start", lines=lines, group=station.group, box=box)
        )
        y = box[3] + 4
    return tuple(labels), (y + 4 if left_over else height)
