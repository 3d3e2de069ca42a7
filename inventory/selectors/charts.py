"""The fingering charts: what each says, where it comes from, and which the district has confirmed."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache

from inventory.catalog.chart_schema import BrassChart, Chart, HoleChart, SlideChart
from inventory.catalog.charts import chart_of, charts
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import ChartConfirmation
from inventory.rules.pitch import name_of
from inventory.rules.playing.partials import open_notes

REST_WORDS = {"open": "stands open", "closed": "stands closed", "finger": "bare, under a finger", "joint": "a joint"}


def known_charts() -> dict[str, Chart]:
    """Charts by their own code, aliases left out."""
    return {chart.code: chart for chart in charts().values()}


@lru_cache(maxsize=200)
def chart_digest(code: str) -> str:
    """SHA-256 over the content of a chart; the same content gives the same digest on every machine."""
    return hashlib.sha256(canonical(known_charts()[code]).encode()).hexdigest()


def canonical(value: object) -> str:
    """Write a value of a chart in one way only: fields in their order, sets and mappings sorted."""
    if is_dataclass(value) and not isinstance(value, type):
        return "(" + ",".join(f"{one.name}={canonical(getattr(value, one.name))}" for one in fields(value)) + ")"
    if isinstance(value, Mapping):
        return "{" + ",".join(f"{key!r}:{canonical(value[key])}" for key in sorted(value)) + "}"
    if isinstance(value, frozenset):
        return "<" + ",".join(sorted(repr(one) for one in value)) + ">"
    if isinstance(value, (tuple, list)):
        return "[" + ",".join(canonical(one) for one in value) + "]"
    return repr(str(value)) if isinstance(value, str) else repr(value)


def is_unconfirmed(chart: Chart | None) -> bool:
    """Whether note states worked out from this chart need a mark. One query, none where the chart is verified."""
    if chart is None or chart.verified:
        return False
    held = ChartConfirmation.objects.filter(chart=chart.code).values_list("digest", flat=True).first()
    return held != chart_digest(chart.code)


def unconfirmed_chart(chart: Chart | None) -> str:
    """The code of a chart that needs the mark, else ""."""
    return chart.code if chart is not None and is_unconfirmed(chart) else ""


@dataclass(frozen=True, slots=True)
class ChartLine:
    """A chart on the list: for which kinds, from where, and whether it holds."""

    code: str
    name: str
    sort: str  # woodwind or brass
    kinds: tuple[str, ...]
    origin: str
    is_verified: bool  # checked against published fingerings before it came here
    digest: str
    confirmation: ChartConfirmation | None
    has_changed: bool  # confirmed once, other content now

    @property
    def is_confirmed(self) -> bool:
        return self.confirmation is not None and not self.has_changed

    @property
    def is_open(self) -> bool:
        return not self.is_verified and not self.is_confirmed


def chart_lines() -> list[ChartLine]:
    """Every chart, those waiting for a confirmation first. One query."""
    held = {row.chart: row for row in ChartConfirmation.objects.select_related("confirmed_by")}
    lines = [chart_line(chart, held.get(chart.code)) for chart in known_charts().values()]
    return sorted(lines, key=lambda line: (not line.is_open, line.sort != "woodwind", line.name))


def chart_line(chart: Chart, confirmation: ChartConfirmation | None) -> ChartLine:
    digest = chart_digest(chart.code)
    return ChartLine(
        code=chart.code,
        name=chart.name,
        sort="woodwind" if isinstance(chart, HoleChart) else "brass",
        kinds=kinds_of(chart.code),
        origin=chart.origin,
        is_verified=chart.verified,
        digest=digest,
        confirmation=confirmation,
        has_changed=confirmation is not None and confirmation.digest != digest,
    )


@lru_cache(maxsize=200)
def kinds_of(code: str) -> tuple[str, ...]:
    """Names of the kinds whose notes come from the chart, with the choice of an option where it takes one."""
    found: dict[str, None] = {}
    for kind in catalog().kinds.values():
        for said, chart in charts_of_kind(kind):
            if chart is not None and chart.code == code:
                found[said] = None
    return tuple(found)


def usual_chart(kind: Kind) -> Chart | None:
    """The chart of the kind as it usually comes."""
    return chart_of(kind, {option.code: option.default for option in kind.options})


def charts_of_kind(kind: Kind) -> list[tuple[str, Chart | None]]:
    """The charts that a kind may use: as it comes, and by each choice that has one of its own."""
    usual = usual_chart(kind)
    found = [(kind.name, usual)]
    for option in kind.options:
        for choice in option.choices:
            chart = chart_of(kind, {option.code: choice})
            if chart is not None and chart is not usual:
                found.append((f"{kind.name}, {option.name.lower()} {choice}", chart))
    return found


@dataclass(frozen=True, slots=True)
class FingeringLine:
    written: str
    usual: str
    others: tuple[str, ...]
    sounds_from: str = ""
    shut: str = ""


@dataclass(frozen=True, slots=True)
class ChartPage:
    """A chart to read beside a real instrument."""

    line: ChartLine
    fingerings: Sequence[FingeringLine]
    holes: Sequence[tuple[str, str, str]]  # name, how it stands, keys that move it
    keys: Sequence[tuple[str, str]]  # key, what it does
    facts: Sequence[tuple[str, str]]

    @property
    def has_others(self) -> bool:
        return any(row.others for row in self.fingerings)


def chart_page(code: str) -> ChartPage | None:
    """A chart in words, None where there is none of that code."""
    chart = known_charts().get(code)
    if chart is None:
        return None
    line = chart_line(chart, ChartConfirmation.objects.select_related("confirmed_by").filter(chart=code).first())
    if isinstance(chart, HoleChart):
        return hole_page(chart, line)
    return valve_page(chart, line) if isinstance(chart, BrassChart) else slide_page(chart, line)


def hole_page(chart: HoleChart, line: ChartLine) -> ChartPage:
    names = {hole.id: hole.name or hole.id for hole in chart.holes} | {chart.end: chart.end.replace("_", " ")}
    still = {hole.id for hole in chart.holes if hole.rest in {"joint", "closed"}}  # shut without anybody's doing
    rows = [
        FingeringLine(
            written=written,
            usual=usual.words,
            others=tuple(one.words for one in others),
            sounds_from=names[usual.sounds_from],
            shut=", ".join(names[hole.id] for hole in chart.holes if hole.id in usual.must_seal - still) or "none",
        )
        for written, (usual, *others) in chart.fingerings.items()
    ]
    moved: dict[str, list[str]] = {}
    for key, ids in (*chart.closes.items(), *chart.opens.items()):
        for hole in ids:
            moved.setdefault(hole, []).append(key)
    keys: dict[str, list[str]] = {}
    for verb, table in (("shuts", chart.closes), ("opens", chart.opens)):
        for key, ids in table.items():
            if ids:
                keys.setdefault(key, []).append(f"{verb} {', '.join(names[hole] for hole in ids)}")
    return ChartPage(
        line=line,
        fingerings=rows,
        holes=[(names[hole.id], REST_WORDS[hole.rest], ", ".join(moved.get(hole.id, ()))) for hole in chart.holes],
        keys=[(key, "; ".join(what)) for key, what in keys.items()],
        facts=[("Lowest note sounds from", chart.end.replace("_", " "))],
    )


def valve_page(chart: BrassChart, line: ChartLine) -> ChartPage:
    facts = [
        (
            f"Open notes, {side.code} side" if side.code else "Open notes",
            open_words(fundamental=side.fundamental, partials=side.partials),
        )
        for side in chart.sides
    ]
    if chart.clef:
        facts.append(("Clef", chart.clef))
    for throw in chart.throws:
        cures = ", ".join("-".join(str(valve) for valve in combination) for combination in throw.cures)
        facts.append((f"Slide of valve {throw.valve}", f"put out, it corrects {cures}"))
    return ChartPage(
        line=line,
        fingerings=[
            FingeringLine(
                written=written,
                usual=valves_words(fingering),
                others=(f"{valves_words(chart.four_valves[written])} with a fourth valve",)
                if written in chart.four_valves
                else (),
            )
            for written, fingering in chart.usual.items()
        ],
        holes=(),
        keys=(),
        facts=[*facts, *tuning_facts(chart)],
    )


def slide_page(chart: SlideChart, line: ChartLine) -> ChartPage:
    return ChartPage(
        line=line,
        fingerings=[
            FingeringLine(written=written, usual=position_words(position), others=())
            for written, position in chart.usual.items()
        ],
        holes=(),
        keys=(),
        facts=[
            ("First position", open_words(fundamental=chart.fundamental, partials=chart.partials)),
            ("The attachment lowers by", f"{chart.attachment} semitones"),
            *tuning_facts(chart),
        ],
    )


def open_words(*, fundamental: int, partials: Sequence[int]) -> str:
    return ", ".join(name_of(midi) for midi in open_notes(fundamental=fundamental, partials=partials).values())


def valves_words(fingering: str) -> str:
    """Say valves as a band room does: "open", "1-3", "thumb, 2"."""
    digits = fingering.lstrip("T")
    valves = "-".join(digits) if digits not in {"", "0"} else "open"
    return f"thumb, {valves}" if digits != fingering else valves


def position_words(fingering: str) -> str:
    """Say a slide's position: "position 4", "position 4 with trigger"."""
    levers = fingering.rstrip("1234567")
    said = {"": "", "T": " with trigger", "G": " with second trigger", "TG": " with both triggers"}
    return f"position {fingering[len(levers) :]}{said[levers]}"


def tuning_facts(chart: BrassChart | SlideChart) -> list[tuple[str, str]]:
    return [
        (
            slide.part.replace("_", " ").capitalize(),
            f"can be pulled {slide.travel_mm:.0f} mm; stands {slide.at_pitch_mm:.0f} mm out at A4 = 440 Hz",
        )
        for slide in chart.tuning
    ]
