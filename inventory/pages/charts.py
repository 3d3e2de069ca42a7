"""A fingering chart in words, to read beside a real instrument."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext, gettext_noop
from django.utils.translation import gettext_lazy as _

from inventory.catalog.chart_schema import Backing, BrassChart, Fingering, HoleChart, SlideChart
from inventory.catalog.load.language import catalog_word
from inventory.catalog.schema import Kind, PlayingModel
from inventory.rules.notes import signed
from inventory.rules.pitch import name_of
from inventory.rules.playing.partials import open_notes
from inventory.selectors.charts import chart_line_of

REST_WORDS = {
    "open": _("open at rest"),
    "closed": _("closed at rest"),
    "finger": _("bare, under a finger"),
    "joint": _("a joint"),
}
BACKING_WORDS = {
    Backing.TWO: "",
    Backing.ONE: _("in one published chart only"),
    Backing.UNSURE: _("published charts differ"),
    Backing.MEMORY: _("from memory"),
}
CLEFS = {"treble": gettext_noop("treble"), "bass": gettext_noop("bass")}
TRIGGERS = {"": "", "T": _(" with trigger"), "G": _(" with second trigger"), "TG": _(" with both triggers")}


def chart_page(code: str) -> dict[str, Any] | None:
    """None where there is no chart of that code."""
    line = chart_line_of(code)
    if line is None:
        return None
    chart = line.chart
    if isinstance(chart, HoleChart):
        page = hole_page(chart)
    else:
        page = valve_page(chart) if isinstance(chart, BrassChart) else slide_page(chart)
    return page | {"line": line, "has_others": any(row.get("others") for row in page["fingerings"])}


def hole_page(chart: HoleChart) -> dict[str, Any]:
    names = {hole.id: catalog_word(hole.name or hole.id) for hole in chart.holes}
    names[chart.end] = _coded(chart.end)
    still = {hole.id for hole in chart.holes if hole.rest in {"joint", "closed"}}  # closed without a finger
    rows = [
        {
            "written": written,
            "usual": fingering_words(usual),
            "others": tuple(fingering_words(one) for one in others),
            "sounds_from": names[usual.sounds_from],
            "shut": ", ".join(names[hole.id] for hole in chart.holes if hole.id in usual.must_seal - still)
            or gettext("none"),
        }
        for written, (usual, *others) in chart.fingerings.items()
    ]
    moved: dict[str, list[str]] = {}
    for key, ids in (*chart.closes.items(), *chart.opens.items()):
        for hole in ids:
            moved.setdefault(hole, []).append(signed(key))
    keys: dict[str, list[str]] = {}
    for verb, table in ((gettext("closes"), chart.closes), (gettext("opens"), chart.opens)):
        for key, ids in table.items():
            if ids:
                keys.setdefault(signed(key), []).append(f"{verb} {', '.join(names[hole] for hole in ids)}")
    return {
        "fingerings": rows,
        # name, state at rest, keys that move it
        "holes": [
            (names[hole.id], str(REST_WORDS[hole.rest]), ", ".join(moved.get(hole.id, ()))) for hole in chart.holes
        ],
        "key_acts": [(key, "; ".join(what)) for key, what in keys.items()],  # key, what it does
        "facts": [(gettext("Lowest note sounds from"), _coded(chart.end))],
    }


def fingering_words(fingering: Fingering) -> str:
    """Write the keys, and what stands behind them where two published charts do not."""
    backing = BACKING_WORDS[fingering.backed]
    words = signed(fingering.words)
    return f"{words} ({backing})" if backing else words


def valve_page(chart: BrassChart) -> dict[str, Any]:
    facts = [
        (
            gettext("Open notes, %(side)s side") % {"side": side.code} if side.code else gettext("Open notes"),
            open_words(fundamental=side.fundamental, partials=side.partials),
        )
        for side in chart.sides
    ]
    if chart.clef:
        facts.append((gettext("Clef"), gettext(CLEFS[chart.clef])))
    for throw in chart.throws:
        cures = ", ".join("-".join(str(valve) for valve in combination) for combination in throw.cures)
        heading = gettext("Slide of valve %(number)d") % {"number": throw.valve}
        facts.append((heading, gettext("extended, it corrects %(fingerings)s") % {"fingerings": cures}))
    return {
        "fingerings": [valves_line(chart, written) for written in chart.usual],
        "facts": [*facts, *tuning_facts(chart)],
    }


def valves_line(chart: BrassChart, written: str) -> dict[str, Any]:
    usual, fourth = valves_words(chart.usual[written]), chart.four_valves.get(written)
    if fourth is None:
        return {"written": written, "usual": usual}
    words = gettext("%(fingering)s with a fourth valve") % {"fingering": valves_words(fourth)}
    return {"written": written, "usual": usual, "others": (words,)}


def slide_page(chart: SlideChart) -> dict[str, Any]:
    return {
        "fingerings": [
            {"written": written, "usual": position_words(position)} for written, position in chart.usual.items()
        ],
        "facts": [
            (gettext("First position"), open_words(fundamental=chart.fundamental, partials=chart.partials)),
            (
                gettext("The attachment lowers by"),
                gettext("%(number)d semitones") % {"number": chart.attachment},
            ),
            *tuning_facts(chart),
        ],
    }


def open_words(*, fundamental: int, partials: Sequence[int]) -> str:
    return ", ".join(name_of(midi) for midi in open_notes(fundamental=fundamental, partials=partials).values())


def valves_words(fingering: str) -> str:
    """Write valves the way a band room says them: "open", "1-3", "thumb, 2"."""
    digits = fingering.lstrip("T")
    valves = "-".join(digits) if digits not in {"", "0"} else gettext("open")
    return gettext("thumb, %(valves)s") % {"valves": valves} if digits != fingering else valves


def fingering_text(kind: Kind, fingering: str) -> str:
    """Write a fingering the way a band room says it: "open", "1-3", "T 1-2", "position 4"; keys by name."""
    if kind.model is PlayingModel.HOLES or fingering in {"", "bar"}:
        return "" if fingering == "bar" else signed(fingering)
    if kind.model is PlayingModel.SLIDE:
        return position_words(fingering)
    head = fingering.rstrip("0123456789")
    digits = fingering[len(head) :]
    valves = "-".join(digits) if digits not in {"", "0"} else gettext("open")
    return f"{head} {valves}".strip()


def position_words(fingering: str) -> str:
    """Write a slide position: "position 4", "position 4 with trigger"."""
    levers = fingering.rstrip("1234567")
    return gettext("position %(number)s") % {"number": fingering[len(levers) :]} + str(TRIGGERS[levers])


def _coded(code: str) -> str:
    """Name a part or the end of a bore by its code."""
    return catalog_word(code.replace("_", " "))


def tuning_facts(chart: BrassChart | SlideChart) -> list[tuple[str, str]]:
    return [
        (
            _coded(slide.part).capitalize(),
            gettext("can be pulled %(travel).0f mm; pulled %(out).0f mm at A4 = 440 Hz")
            % {"travel": slide.travel_mm, "out": slide.at_pitch_mm},
        )
        for slide in chart.tuning
    ]
