"""The need to replace in words: the years, what goes first, how long each kind lasts, and the files."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.charts import Chart, Series
from core.days import month_and_year
from core.money import dollars, percent
from core.sheets import OutValue, Share
from desk.pages.property import lacking_url
from desk.selectors.replacement import Need, first_curve
from inventory.rules.replacement import YEARS, FleetUnit, replace_first
from inventory.rules.survivors import ENOUGH_FOR_SCALE, Origin, SurvivorCurve

YEARS_HEADER = (_("Twelve months to"), _("Expected replacements"), _("Expected cost"), _("P10"), _("P90"))
FIRST_HEADER = (
    _("Place"),
    _("Asset number"),
    _("Kind"),
    _("School"),
    _("Replacement cost"),
    _("Chance within a year"),
    _("Why"),
)
KINDS_HEADER = (
    _("Kind"),
    _("Instruments"),
    _("Average life in years"),
    _("A quarter worn out by age"),
    _("Three quarters by age"),
    _("Shape"),
    _("Scale in years"),
    _("Retirements on record"),
    _("Based on"),
)


def answer_of(need: Need) -> dict[str, str]:
    """The answer in a sentence or two: the next twelve months, the ten years, and what to set aside."""
    first = need.years[0]
    return {
        "count": f"{first.count:,.0f}" if first.count >= 10 else f"{first.count:.1f}",
        "of": f"{len(need.facts):,}",
        "mean": whole(first.mean_amount),
        "low": whole(first.low_amount),
        "high": whole(first.high_amount),
        "all": whole(sum((year.mean_amount for year in need.years), Decimal(0))),
        "budget": whole(need.budget),
    }


def whole(amount: Decimal | float) -> str:
    """Whole dollars: a forecast is not to the cent."""
    return dollars(round(amount))


def ends_of(today: date, *, years: int = YEARS) -> list[date]:
    """Return the day after each of the coming years. Whoever asks on February 29 counts from the 28th."""
    day = today.replace(day=28) if (today.month, today.day) == (2, 29) else today
    return [day.replace(year=day.year + year) for year in range(1, years + 1)]


def year_lines(need: Need) -> list[dict[str, str]]:
    return [
        {
            "to": gettext("to %(month)s") % {"month": month_and_year(end)},
            "count": f"{year.count:,.1f}",
            "mean": whole(year.mean_amount),
            "low": whole(year.low_amount),
            "high": whole(year.high_amount),
        }
        for end, year in zip(ends_of(need.today), need.years, strict=True)
    ]


def years_chart(need: Need) -> Chart:
    """Money by year, with the range that eight years in ten stay within."""
    ends = ends_of(need.today)
    years = need.years
    values = {
        "first": whole(years[0].mean_amount),
        "last": whole(years[-1].mean_amount),
        "year": month_and_year(ends[-1]),
        "most": whole(max(year.high_amount for year in years)),
    }
    return Chart(
        code="years",
        title=gettext("Cost of replacing, by year"),
        summary=gettext(
            "Expected cost goes from %(first)s in the first twelve months to %(last)s in those to %(year)s. Whiskers "
            "reach from P10 to P90; the highest ends at %(most)s."
        )
        % values,
        form="bars",
        labels=[str(end.year) for end in ends],
        series=[
            Series(
                gettext("Expected cost"),
                [float(year.mean_amount) for year in years],
                ranges=[(float(year.low_amount), float(year.high_amount)) for year in years],
            )
        ],
        formatter=whole,
    )


def first_lines(
    need: Need, *, names: Mapping[int, str], units: Iterable[FleetUnit] | None = None
) -> list[dict[str, Any]]:
    """What to replace first, of these or what a page shows, each linked to its page, with the reason for its place."""
    facts = {one.number: one for one in need.facts}
    return [
        {
            "number": one.number,
            "url": reverse("desk:instrument", args=[one.number]),
            "kind": need.trade.kind(facts[one.number].kind).name,
            "school": names.get(facts[one.number].school, ""),
            "amount": one.amount,
            "chance": one.wear_out_chance,
            "words": one.words,
        }
        for one in replace_first(need.first if units is None else units)
    ]


def school_lines(need: Need, *, names: Mapping[int, str]) -> list[dict[str, Any]]:
    """A line for each school: what the next twelve months take on average, and what to set aside a year."""
    lines = []
    for pk, name in names.items():
        if one := need.school_needs.get(pk):
            lines.append(
                {
                    "name": name,
                    "instruments": one.instruments,
                    "count": f"{one.count:,.1f}",
                    "mean": whole(one.mean),
                    "budget": whole(one.budget),
                }
            )
    return lines


def kind_lines(need: Need) -> list[dict[str, Any]]:
    """How long each kind lasts, and where that comes from."""
    counts = Counter(one.kind for one in need.facts)
    lines = [
        {
            "name": need.trade.kind(code).name,
            "instruments": counts[code],
            "curve": curve,
            "mean": f"{curve.mean_years:.1f}",
            "quarter": f"{curve.age_when(0.75):.1f}",
            "three_quarters": f"{curve.age_when(0.25):.1f}",
            "shape": f"{curve.shape:.2f}",
            "scale": f"{curve.scale_years:.1f}",
            "origin": origin_words(code, curve, need=need),
        }
        for code, curve in need.curves.items()
    ]
    return sorted(lines, key=lambda line: str(line["name"]))


def origin_words(code: str, curve: SurvivorCurve, *, need: Need) -> str:
    retired = {"count": f"{curve.retirements:,}"}
    if curve.origin is Origin.LEARNED:
        return gettext("%(count)s retired by the district") % retired
    if curve.origin is Origin.SCALE_LEARNED:
        return gettext("average from %(count)s retired by the district, spread from the catalog") % retired
    start = first_curve(code, trade=need.trade)
    return gettext("catalog: %(low)s to %(high)s years") % {
        "low": f"{start.age_when(0.75):.0f}",
        "high": f"{start.age_when(0.25):.0f}",
    }


def marks_of(need: Need) -> list[dict[str, str]]:
    """What the forecast does not know, a sentence each, linked to the records that lack it where there is such a list."""
    facts = need.facts
    marks = (
        (
            "",
            sum(need.curves[one.kind].origin is Origin.LIFE_SPAN for one in facts),
            gettext(
                "%(count)s of kinds with fewer than %(least)s retired by the district: their service life is the "
                "catalog's, and well-kept old ones may last longer."
            ),
        ),
        ("", sum(one.age_years is None for one in facts),
         gettext("%(count)s of unknown age: assumed to be at half the average life.")),
        ("price", sum(one.is_kind_price for one in facts),
         gettext("%(count)s without a replacement cost on record: priced at the midpoint of the kind's price range.")),
        ("condition", sum(not one.is_inspected for one in facts),
         gettext("%(count)s never inspected: counted as if in playing condition.")),
        ("", need.out_of_use,
         gettext("%(count)s retired or kept for parts: not included.")),
    )  # fmt: skip
    return [
        {
            "words": words % {"count": f"{count:,}", "least": ENOUGH_FOR_SCALE},
            "url": lacking_url(code, scope="in_use") if code else "",
        }
        for code, count, words in marks
        if count
    ]


def method_of(need: Need) -> dict[str, str]:
    return {"growth": percent(need.trade.settings["price_growth"])}


# Files


def year_rows(need: Need) -> Iterator[tuple[OutValue, ...]]:
    for end, year in zip(ends_of(need.today), need.years, strict=True):
        yield (end, round(year.count, 2), year.mean_amount, year.low_amount, year.high_amount)


def first_rows(need: Need, *, names: Mapping[int, str]) -> Iterator[tuple[OutValue, ...]]:
    for place, line in enumerate(first_lines(need, names=names, units=need.units.values()), start=1):
        chance = Share(f"{line['chance']:.4f}")
        yield (place, line["number"], line["kind"], line["school"], line["amount"], chance, line["words"])


def kind_rows(need: Need) -> Iterator[tuple[OutValue, ...]]:
    for line in kind_lines(need):
        curve: SurvivorCurve = line["curve"]
        figures = (curve.mean_years, curve.age_when(0.75), curve.age_when(0.25), curve.shape, curve.scale_years)
        yield (
            line["name"],
            line["instruments"],
            *(round(one, 2) for one in figures),
            curve.retirements,
            line["origin"],
        )
