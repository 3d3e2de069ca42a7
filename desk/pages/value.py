"""The inventory value in words: its lines, its figures, its files."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta
from itertools import islice
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from core.money import dollars, percent
from core.sheets import OutValue, Share
from desk.pages.property import lacking_url
from desk.selectors.value import FleetValue, Sums, Valued, fiscal_year_begins
from desk.selectors.value_year import ADDED, DISPOSED, TRANSFERRED, Count, FiscalYear, Movement
from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog
from inventory.models import Level
from inventory.rules.depreciation import fiscal_year
from inventory.rules.value import Band, Treatment
from inventory.selectors.columns import price_basis

BANDS = {Band.GOOD: _("good"), Band.FAIR: _("fair"), Band.POOR: _("poor"), Band.CRITICAL: _("critical")}
TREATMENTS = {
    Treatment.CAPITAL: _("capital"),
    Treatment.SUPPLY: _("supply"),
    Treatment.NO_COST: _("no cost recorded"),
}
WAYS = {ADDED: _("Added"), TRANSFERRED: _("Transferred"), DISPOSED: _("Disposed of")}
YEARS_OFFERED = 10

SUMS_HEADER = (
    _("Instruments"),
    _("Cost"),
    _("Book value"),
    _("Replacement cost"),
    _("As-is value"),
    _("Cost to playing condition"),
    _("Condition index"),
    _("No cost"),
    _("No acquisition date"),
    _("Priced by kind"),
    _("Not inspected"),
)
SCHEDULE_HEADER = (
    _("Asset number"),
    _("Kind"),
    _("Level"),
    _("Maker"),
    _("Model"),
    _("Serial"),
    _("School"),
    _("Acquired on"),
    _("Cost"),
    _("Book value"),
    _("Replacement cost"),
    _("Replacement cost basis"),
    _("Cost to playing condition"),
    _("As-is value"),
    _("Capital asset or supply"),
)
SCHEDULE_ON_PAPER = (0, 1, 3, 4, 5, 6, 7, 8, 9, 10, 13)  # what an insurer asks; there is no room for more
YEAR_HEADER = (
    _("What"),
    _("On"),
    _("Asset number"),
    _("Kind"),
    _("From school"),
    _("To school"),
    _("Cost"),
    _("Book value that day"),
)
AT_ONCE = 500


def figures_of(fleet: FleetValue) -> list[dict[str, str]]:
    """The sums at the head of the page."""
    total = fleet.total
    return [
        {"sum": f"{total.instruments:,}", "what": gettext("instruments")},
        {"sum": dollars(total.acquisition), "what": gettext("original cost")},
        {"sum": dollars(total.book), "what": gettext("book value")},
        {"sum": dollars(total.replacement), "what": gettext("replacement cost")},
        {"sum": dollars(total.condition_adjusted), "what": gettext("as-is value")},
    ]


def line_of(name: str, sums: Sums, *, url: str, trade: Catalog) -> dict[str, Any]:
    band = sums.band(trade.settings)
    return {
        "name": name,
        "url": url,
        "sums": sums,
        "index": "" if sums.index is None else f"{sums.index * 100:.1f}%",
        "band": BANDS[band] if band else "",
    }


def school_lines(fleet: FleetValue, *, names: Mapping[int, str]) -> list[dict[str, Any]]:
    """A line for each school that held anything, linked to its instruments of today."""
    base = reverse("inventory:list")
    return [
        line_of(name, fleet.by_school[pk], url=f"{base}?{urlencode({'school': pk})}", trade=fleet.trade)
        for pk, name in names.items()
        if pk in fleet.by_school
    ]


def kind_lines(fleet: FleetValue) -> list[dict[str, Any]]:
    """A line for each kind, with its yearly charge and rate as a group."""
    base, lines = reverse("inventory:list"), []
    for code, sums in fleet.by_kind.items():
        asset = fleet.asset(code)
        line = line_of(fleet.trade.kind(code).name, sums, url=f"{base}?{urlencode({'kind': code})}", trade=fleet.trade)
        lines.append(line | {"life": asset.life_years, "yearly": asset.yearly, "group_book": sums.group_book})
    return sorted(lines, key=lambda line: str(line["name"]))


def marks_of(total: Sums, *, is_now: bool) -> list[dict[str, str]]:
    """What the sums do not know, a sentence each; of today, linked to the records that lack it."""
    notes = (
        ("cost", total.without_cost, gettext("%(count)s without a recorded cost: not counted in cost or book value.")),
        ("acquired", total.without_day, gettext("%(count)s without an acquisition date: counted from the date of registration.")),
        ("price", total.by_kind_price, gettext(
            "%(count)s without a replacement cost on record: priced at the midpoint of the kind's price range."
        )),
        ("condition", total.not_inspected, gettext("%(count)s not inspected by that day: valued as if in playing condition.")),
    )  # fmt: skip
    return [
        {"words": words % {"count": f"{count:,}"}, "url": lacking_url(code) if is_now else ""}
        for code, count, words in notes
        if count
    ]


def method_of(fleet: FleetValue) -> dict[str, Any]:
    """The figures that the sums were counted with."""
    settings, whole = fleet.trade.settings, fleet.composite
    return {
        "salvage": percent(settings["salvage_share"]),
        "growth": percent(settings["price_growth"]),
        "price_year": int(settings["price_year"]),
        "level": dollars(settings["capital_level_amount"]),
        "rate": "" if whole.rate is None else f"{whole.rate * 100:.2f}%",
        "life": "" if whole.life_years is None else f"{whole.life_years:.1f}",
        "yearly": dollars(whole.yearly_amount),
    }


def years_offered(today: date, *, trade: Catalog) -> list[tuple[str, str]]:
    """The fiscal years to choose from, this one first: the first day of each, and its words."""
    begins, day, offered = fiscal_year_begins(trade), today, []
    for _number in range(YEARS_OFFERED):
        first, last = fiscal_year(day, begins=begins)
        offered.append((first.isoformat(), f"{full_day(first)} – {full_day(last)}"))
        day = first - timedelta(days=1)
    return offered


def year_lines(year: FiscalYear, *, names: Mapping[int, str]) -> list[dict[str, Any]]:
    """A line for each school: what it held at the beginning, what came and went, what it held at the end."""
    labels = {
        "opening": gettext("At the beginning"),
        "added": gettext("Added"),
        "received": gettext("From other schools"),
        "sent": gettext("To other schools"),
        "disposed": gettext("Disposed of"),
        "closing": gettext("At the end"),
    }
    return [
        {
            "name": name,
            "columns": [{"label": label, "count": getattr(year.schools[pk], key)} for key, label in labels.items()],
        }
        for pk, name in names.items()
        if pk in year.schools
    ]


def movement_groups(year: FiscalYear, *, names: Mapping[int, str], seen: frozenset[int] | None) -> list[dict[str, Any]]:
    """What was added, transferred and disposed of; a number leads to its page where the user may open it."""
    return [
        {
            "title": str(title),
            "count": year.counts.get(way, Count()),
            "lines": [_movement_line(one, names=names, seen=seen) for one in year.shown.get(way, ())],
        }
        for way, title in WAYS.items()
    ]


def _movement_line(one: Movement, *, names: Mapping[int, str], seen: frozenset[int] | None) -> dict[str, Any]:
    where = [names.get(pk, gettext("another school")) for pk in (one.school_from, one.school_to) if pk is not None]
    may_open = seen is None or one.history.school_now in seen
    return {
        "number": one.history.asset_number,
        "url": reverse("desk:instrument", args=[one.history.asset_number]) if may_open else "",
        "kind": catalog().kind(one.history.kind_code).name,
        "where": " → ".join(where),
        "on": full_day(one.on),
        "cost": one.history.cost,
        "book": one.book,
    }


# Files


def sums_rows(lines: Iterable[Mapping[str, Any]]) -> Iterator[tuple[OutValue, ...]]:
    for line in lines:
        sums: Sums = line["sums"]
        yield (
            str(line["name"]), sums.instruments, sums.acquisition, sums.book, sums.replacement, sums.condition_adjusted,
            sums.repair, None if sums.index is None else Share(round(sums.index, 4)), sums.without_cost, sums.without_day,
            sums.by_kind_price, sums.not_inspected,
        )  # fmt: skip


def schedule_rows(
    some: Iterable[Valued], *, names: Mapping[int, str], trade: Catalog, texts: Any
) -> Iterator[tuple[OutValue, ...]]:
    """A line for each instrument. ``texts`` returns maker, model and serial of many by their keys."""
    waiting = iter(some)
    while together := list(islice(waiting, AT_ONCE)):
        typed = texts([one.history.pk for one in together])
        for one in together:
            history = one.history
            yield (
                history.asset_number, trade.kind(history.kind_code).name, str(Level(history.level).label),
                *typed[history.pk], names.get(one.school, ""), history.acquired_on, one.cost, one.book, one.replacement,
                price_basis(is_kind_price=one.is_kind_price), one.repair, one.condition_adjusted,
                str(TREATMENTS[one.treatment]),
            )  # fmt: skip


def year_rows(some: Iterable[Movement], *, names: Mapping[int, str], trade: Catalog) -> Iterator[tuple[OutValue, ...]]:
    for one in some:
        kind = trade.kind(one.history.kind_code).name
        start, end = (names.get(pk, "") if pk is not None else "" for pk in (one.school_from, one.school_to))
        yield (str(WAYS[one.way]), one.on, one.history.asset_number, kind, start, end, one.history.cost, one.book)
