"""Woodwind fingerings as published charts have them, in the words of our charts."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

from inventory.catalog.chart_schema import Backing, HoleChart
from inventory.catalog.charts import charts

# Fingerings of woodwinds against published charts, touch by touch; the file names them.
PUBLISHED_WOODWINDS = {
    (instrument, note): sources
    for instrument, note, *sources in (
        line.split("\t")
        for line in Path(__file__).with_name("published_fingerings.tsv").read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    )
}
# How the sources name the touches of our charts: the place (thumb, left, right, right thumb) and the touch.
TOUCHES = {
    "bassoon": {
        **{touch: ("thumb", touch) for touch in ("W", "Bb", "B", "C", "D")},
        "thumbC#": ("thumb", "C#"), "flickA": ("thumb", "highA"), "flickC": ("thumb", "highC"),
        "flickD": ("thumb", "highD"), "Eb": ("left", "Eb"), "lowC#": ("left", "C#"), "F": ("right", "F"),
        "Ab": ("right", "Ab"), "E": ("right", "+E"), "F#": ("right", "+F#"), "thumbBb": ("right", "+Bb"),
    },
    "oboe": {
        "Oct1": ("thumb", "Oct1"), "Oct2": ("thumb", "Oct2"), "G#": ("left", "G#"), "B": ("left", "B"),
        "Bb": ("left", "Bb"), "C": ("right", "C"), "C#": ("right", "C#"), "Eb": ("right", "Eb"), "F": ("right", "F"),
    },
    "clarinet": {
        "T": ("thumb", "T"), "Reg": ("thumb", "Reg"), "A": ("left", "A"), "G#": ("left", "G#"), "C#/G#": ("left", "C#"),
        "fork": ("left", "sliverEb"), **{f"side{number}": ("right", f"side{number}") for number in (1, 2, 3)}, "sliver": ("right", "sliver"),
        "Ab/Eb": ("right", "Ab"), "E/B": ("right", "E/B"), "F/C": ("right", "F/C"), "F#/C#": ("right", "F#/C#"),
    },
    "flute": {
        "T": ("thumb", "T"), "TBb": ("thumb", "TBb"), "G#": ("left", "G#"), "Eb": ("right", "Eb"), "C": ("right", "C"),
        "C#": ("right", "C#"),
    },
    "saxophone": {
        **{touch: ("thumb", touch) for touch in ("Oct", "palmD", "palmEb", "palmF")},
        "bis": ("left", "bis"), "G#": ("left", "G#"), "lowB": ("left", "B"), "lowBb": ("left", "Bb"),
        "lowC#": ("left", "C#"), "lowC": ("right", "C"), "Eb": ("right", "Eb"), "sideBb": ("right", "sideBb"),
        "sideC": ("right", "sideC"), "sideE": ("right", "sideE"),
    },
}  # fmt: skip
CODES = {"saxophone": "alto_saxophone"}
# A touch of the bassoon that speaks the note and is let go again. "Venting Bassoon Notes" (The Instrumentalist, 2014) and
# "On Not Flicking" (Bassoon Operator, 2010) agree on these; for Bb3 one has the A key, the other the C key.
FLICKED = {"A3": {"highA"}, "Bb3": {"highA", "highC"}, "B3": {"highC"}, "C4": {"highC"}, "D4": {"highD"}}
FLICKS = {("thumb", "highA"), ("thumb", "highC"), ("thumb", "highD")}


Touches = frozenset[tuple[str, str]]


def touches_of(text: str) -> Touches:
    """Return the touches of "T | 12- | --3 Eb"."""
    thumb, left, right = (part.split() for part in text.split("|"))
    touches = {("thumb", touch) for touch in thumb if touch != "0"}
    for place, (fingers, *keys) in (("left", left), ("right", right)):
        pressed = (finger for finger in fingers if finger != "-")
        touches |= {(place, touch) for touch in (*pressed, *keys)}
    return frozenset(touches)


def our_touches(instrument: str) -> dict[str, tuple[str, str]]:
    """Return our keys by the names that the sources give their touches."""
    places = {"L": "left", "R": "right"}
    fingers = {f"{hand}{number}": (place, str(number)) for hand, place in places.items() for number in (1, 2, 3)}
    return fingers | {"half": ("left", "½")} | TOUCHES[instrument]


def pads_of(instrument: str, touches: Touches) -> object:
    """Return what stands for the pads that touches shut and that they open, by the linkages of our chart."""
    chart = chart_named(instrument)
    keys = {touch: key for key, touch in our_touches(instrument).items()}
    pressed = [keys.get(touch) for touch in touches]
    if None in pressed:  # a touch that our chart lacks
        return touches
    shut = frozenset(hole for key in pressed for hole in chart.closes.get(key, ()))
    opened = frozenset(hole for key in pressed for hole in chart.opens.get(key, ()))
    return shut, opened - shut


def chart_named(instrument: str) -> HoleChart:
    chart = charts()[CODES.get(instrument, instrument)]
    assert isinstance(chart, HoleChart)
    return chart


def published(instrument: str, note: str) -> list[set[Touches]]:
    """Return the fingerings of a note, source by source, without the sources that lack it."""
    found = PUBLISHED_WOODWINDS[instrument, note]
    return [{touches_of(one) for one in source.split(" or ")} for source in found if source != "none"]


def backing(instrument: str, note: str, touches: Touches) -> Backing:
    """Return what the published charts say of a fingering: the same touches, or others that move the same pads."""
    sources = published(instrument, note)
    alike = [
        {one for one in source if one == touches or pads_of(instrument, one) == pads_of(instrument, touches)}
        for source in sources
    ]
    backers = sum(bool(one) for one in alike)
    if backers > 1:
        return Backing.TWO
    shared = any(first & second for first, second in combinations(sources, 2))
    return Backing.MEMORY if not backers else Backing.ONE if shared else Backing.UNSURE
