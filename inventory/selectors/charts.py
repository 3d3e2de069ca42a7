"""The fingering charts: where each comes from, and which the district has confirmed."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache

from inventory.catalog.chart_schema import Chart, HoleChart
from inventory.catalog.charts import chart_of, charts
from inventory.catalog.load import catalog
from inventory.catalog.load.language import catalog_word, choice_word
from inventory.catalog.schema import Catalog, Kind
from inventory.models import ChartConfirmation


def known_charts() -> dict[str, Chart]:
    """Charts by their own code, aliases left out."""
    return {chart.code: chart for chart in charts().values()}


@lru_cache(maxsize=200)
def chart_digest(code: str) -> str:
    """SHA-256 over the content of a chart; the same content gives the same digest on every machine."""
    return hashlib.sha256(canonical(known_charts()[code]).encode()).hexdigest()


def canonical(value: object) -> str:
    """Write a value of a chart the same way every time: fields in their order, sets and mappings sorted.

    Fields that do not count when two values are compared are left out: they say where it comes from, not what it is.
    """
    if is_dataclass(value) and not isinstance(value, type):
        return (
            "("
            + ",".join(f"{one.name}={canonical(getattr(value, one.name))}" for one in fields(value) if one.compare)
            + ")"
        )
    if isinstance(value, Mapping):
        return "{" + ",".join(f"{key!r}:{canonical(value[key])}" for key in sorted(value)) + "}"
    if isinstance(value, frozenset):
        return "<" + ",".join(sorted(repr(one) for one in value)) + ">"
    if isinstance(value, (tuple, list)):
        return "[" + ",".join(canonical(one) for one in value) + "]"
    return repr(str(value)) if isinstance(value, str) else repr(value)


def is_unconfirmed(chart: Chart | None) -> bool:
    """Whether notes judged by this chart need a mark. One query, none where the chart is verified."""
    if chart is None or chart.verified:
        return False
    held = ChartConfirmation.objects.filter(chart=chart.code).values_list("digest", flat=True).first()
    return held != chart_digest(chart.code)


def unconfirmed_chart(chart: Chart | None) -> str:
    """The code of a chart that needs the mark, else ""."""
    return chart.code if chart is not None and is_unconfirmed(chart) else ""


@dataclass(frozen=True, slots=True)
class ChartLine:
    """A chart on the list, and whether anybody has checked it."""

    chart: Chart
    confirmation: ChartConfirmation | None

    @property
    def name(self) -> str:
        """Its name in the reader's language: charts are read in one, for what is confirmed is known by its digest."""
        return catalog_word(self.chart.name)

    @property
    def origin(self) -> str:
        return catalog_word(self.chart.origin)

    @property
    def digest(self) -> str:
        return chart_digest(self.chart.code)

    @property
    def kinds(self) -> tuple[str, ...]:
        return kinds_of(self.chart.code)

    @property
    def has_changed(self) -> bool:
        """Confirmed once, other content now."""
        return self.confirmation is not None and self.confirmation.digest != self.digest

    @property
    def is_confirmed(self) -> bool:
        return self.confirmation is not None and not self.has_changed

    @property
    def is_open(self) -> bool:
        """Waiting to be confirmed: nobody checked it against published fingerings before it came here either."""
        return not self.chart.verified and not self.is_confirmed


def chart_lines() -> list[ChartLine]:
    """Every chart, those that wait for confirmation first, woodwinds before brass. One query."""
    held = {row.chart: row for row in ChartConfirmation.objects.select_related("confirmed_by")}
    lines = [ChartLine(chart, held.get(chart.code)) for chart in known_charts().values()]
    return sorted(lines, key=lambda line: (not line.is_open, not isinstance(line.chart, HoleChart), line.name))


def chart_line_of(code: str) -> ChartLine | None:
    """One chart by its own code, None where there is none. One query."""
    chart = known_charts().get(code)
    held = ChartConfirmation.objects.select_related("confirmed_by").filter(chart=code).first()
    return None if chart is None else ChartLine(chart, held)


def kinds_of(code: str) -> tuple[str, ...]:
    """Names of the kinds that use the chart, with the option where only one of its choices does."""
    return _kinds_of(catalog(), code)


@lru_cache(maxsize=200)
def _kinds_of(trade: Catalog, code: str) -> tuple[str, ...]:
    found: dict[str, None] = {}
    for kind in trade.kinds.values():
        for name, chart in charts_of_kind(kind):
            if chart is not None and chart.code == code:
                found[name] = None
    return tuple(found)


def usual_chart(kind: Kind) -> Chart | None:
    """The chart of the kind with its default options."""
    return chart_of(kind, kind.chosen({}))


def charts_of_kind(kind: Kind) -> list[tuple[str, Chart | None]]:
    """Each chart that a kind may use, with a name: the usual one, and one for each choice that has its own."""
    usual = usual_chart(kind)
    found = [(kind.name, usual)]
    for option in kind.options:
        for choice in option.choices:
            chart = chart_of(kind, {option.code: choice})
            if chart is not None and chart is not usual:
                found.append((f"{kind.name}, {option.name.lower()} {choice_word(option.code, choice)}", chart))
    return found
