"""The condition of the fleet in words, tables and charts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from core.charts import Chart, Series, Tone
from core.days import full_day, month_and_year
from core.money import dollars, percent
from core.sheets import OutValue, Share
from desk.pages.value import BANDS
from desk.selectors.condition import AGES, UNKNOWN_AGE, Condition, FleetCondition, Month
from inventory.models import READINESS_LABELS, VERDICT_LABELS, Level
from inventory.rules.readiness import Readiness
from inventory.rules.value import CUT_POINTS, index_band
from inventory.rules.verdict import Verdict

VERDICTS = (Verdict.PLAYS, Verdict.PLAYS_WITH_LIMITS, Verdict.DOES_NOT_PLAY, Verdict.NOT_INSPECTED)
TONES = {
    Verdict.PLAYS: Tone.GOOD,
    Verdict.PLAYS_WITH_LIMITS: Tone.LIMIT,
    Verdict.DOES_NOT_PLAY: Tone.STOP,
    Verdict.NOT_INSPECTED: Tone.NONE,
}
MOST_BARS = 20  # of a chart; the table has all
GROUPS = ("schools", "kinds", "levels", "ages", "funding")
SUMS_HEADER = (
    _("Instruments"),
    *VERDICT_LABELS.values(),
    *READINESS_LABELS.values(),
    _("Not in playing condition"),
    _("Bench hours to playing condition"),
    _("Cost to playing condition"),
    _("Replacement cost"),
    _("Condition index"),
)
MONTHS_HEADER = (
    _("End of month"),
    _("Instruments"),
    _("Cost to playing condition"),
    _("Replacement cost"),
    _("Condition index"),
)


def share(part: float | Decimal, whole: float | Decimal) -> str:
    """A share in percent: "12.5%", "" of nothing."""
    return f"{float(part) / float(whole) * 100:.1f}%" if whole else ""


def index_words(condition: Condition | Month) -> str:
    return "" if condition.index is None else f"{condition.index * 100:.1f}%"


def stats_of(found: FleetCondition) -> list[dict[str, str]]:
    """The sums at the head of the page."""
    total = found.total
    band = total.band(found.trade.settings)
    return [
        {"sum": f"{total.instruments:,}", "what": gettext("instruments")},
        {"sum": share(total.verdicts[Verdict.PLAYS], total.instruments) or "—", "what": gettext("play as they should")},
        {"sum": dollars(round(total.repair)), "what": gettext("to playing condition")},
        {"sum": f"{total.hours:,.0f}", "what": gettext("bench hours")},
        {
            "sum": index_words(total) or "—",
            "what": gettext("condition index: %(band)s") % {"band": BANDS[band]}
            if band
            else gettext("condition index"),
        },
    ]


def answer_of(found: FleetCondition) -> str:
    """The condition in a sentence."""
    total, band = found.total, found.total.band(found.trade.settings)
    if band is None:
        return gettext("No instruments are held, so there is no condition to report.")
    return gettext(
        "%(count)s of %(whole)s instruments are not in playing condition. Repairing them all takes %(cost)s and %(hours)s "
        "bench hours; replacing the fleet would cost %(value)s. That is a condition index of %(index)s: %(band)s."
    ) % {
        "count": f"{total.to_repair:,}",
        "whole": f"{total.instruments:,}",
        "cost": dollars(round(total.repair)),
        "hours": f"{total.hours:,.0f}",
        "value": dollars(round(total.replacement)),
        "index": index_words(total),
        "band": BANDS[band],
    }


# Groups


def groups_of(found: FleetCondition, *, names: Mapping[int, str], with_schools: bool = False) -> list[dict[str, Any]]:
    """The tables, each with its chart; that of schools where there are several, or where it is asked for."""
    kinds, levels = found.by("kinds"), found.by("levels")
    ages, funding = found.by("ages"), found.by("funding")
    kind_names = {code: found.trade.kind(str(code)).name for code in kinds}
    funding_names = {one: one or gettext("Not recorded") for one in funding}
    groups = [
        _group(found, "kinds", _("By kind"), _("Kind"), conditions=kinds, names=kind_names, param="kind"),
        _group(found, "levels", _("By level"), _("Level"), conditions=levels, names=dict(Level.choices)),
        _group(found, "ages", _("By age"), _("Age"), conditions=ages, names=age_names()),
        _group(
            found, "funding", _("By funding"), _("Funding source"), conditions=funding, names=funding_names,
            param="funding",
        ),
    ]  # fmt: skip
    if with_schools or len(names) > 1:
        schools = found.by_school
        groups.insert(
            0, _group(found, "schools", _("By school"), _("School"), conditions=schools, names=names, param="school")
        )
    return groups


def age_names() -> dict[int, str]:
    spans = [gettext("under %(years)d years") % {"years": AGES[0]}]
    spans += [
        gettext("%(first)d to %(last)d years") % {"first": first, "last": last - 1} for first, last in pairwise(AGES)
    ]
    spans.append(gettext("%(years)d years and older") % {"years": AGES[-1]})
    return {**dict(enumerate(spans)), UNKNOWN_AGE: gettext("Unknown age")}


def _group(
    found: FleetCondition,
    code: str,
    title: Any,
    first: Any,
    *,
    conditions: Mapping[Any, Condition],
    names: Mapping[Any, Any],
    param: str = "",
) -> dict[str, Any]:
    keys = [key for key in names if key in conditions]
    if code not in {"ages", "levels"}:
        keys.sort(key=lambda key: str(names[key]))
    lines = [
        line_of(str(names[key]), conditions[key], found=found, url=_register(param, key) if param and key != "" else "")
        for key in keys
    ]
    return {
        "code": code,
        "title": title,
        "first": first,
        "lines": lines,
        "chart": verdict_chart(code, str(title), lines),
    }


def _register(param: str, key: Any) -> str:
    return f"{reverse('inventory:list')}?{urlencode({param: key})}"


def line_of(name: str, condition: Condition, *, found: FleetCondition, url: str = "") -> dict[str, Any]:
    band = condition.band(found.trade.settings)
    return {
        "name": name,
        "url": url,
        "condition": condition,
        "verdicts": [(str(VERDICT_LABELS[one]), condition.verdicts[one]) for one in VERDICTS],
        "may_go_out": condition.readiness[Readiness.MAY_GO_OUT] + condition.readiness[Readiness.WITH_LIMITS],
        "hours": f"{condition.hours:,.1f}",
        "cost": dollars(round(condition.repair)),
        "index": index_words(condition),
        "band": BANDS[band] if band else "",
    }


def verdict_chart(code: str, title: str, lines: Sequence[Mapping[str, Any]]) -> Chart:
    """How many play, by group: of many groups the largest."""
    largest = sorted(range(len(lines)), key=lambda place: -lines[place]["condition"].instruments)[:MOST_BARS]
    kept = [lines[place] for place in sorted(largest)]
    return Chart(
        code=code,
        title=gettext("Verdicts, %(by)s") % {"by": title[:1].lower() + title[1:]},
        summary=verdict_summary(kept, left=len(lines) - len(kept)),
        form="stacked",
        labels=[line["name"] for line in kept],
        series=[
            Series(str(VERDICT_LABELS[one]), [line["condition"].verdicts[one] for line in kept], TONES[one])
            for one in VERDICTS
        ],
    )


def verdict_summary(lines: Sequence[Mapping[str, Any]], *, left: int) -> str:
    """Where the largest and the smallest share plays, in a sentence."""
    if not lines:
        return gettext("There are no instruments.")

    def playing(line: Mapping[str, Any]) -> float:
        condition: Condition = line["condition"]
        return condition.verdicts[Verdict.PLAYS] / condition.instruments

    best, worst = max(lines, key=playing), min(lines, key=playing)
    values = {
        "best": best["name"],
        "most": f"{playing(best):.0%}",
        "worst": worst["name"],
        "least": f"{playing(worst):.0%}",
    }
    if len(lines) == 1:
        text = gettext("%(best)s: %(most)s play as they should.") % values
    elif values["most"] == values["least"]:
        text = gettext("Everywhere %(most)s play as they should.") % values
    else:
        text = (
            gettext(
                "The largest share plays as it should in the group %(best)s (%(most)s), the smallest in %(worst)s (%(least)s)."
            )
            % values
        )
    if left:
        more = ngettext(
            "%(count)d smaller group is only in the table.", "%(count)d smaller groups are only in the table.", left
        )
        text = f"{text} {more % {'count': left}}"
    return text


# Over time


def until_today(months: Sequence[Month], *, found: FleetCondition) -> list[Month]:
    """The months that were kept, and the sums of today after them; nothing where none was kept."""
    total = found.total
    if not months or months[-1].ends_on >= found.today:
        return list(months)
    return [*months, Month(found.today, total.instruments, total.repair, total.replacement)]


def _month_name(month: Month, *, today: date) -> str:
    return gettext("Today") if month.ends_on == today else month_and_year(month.ends_on)


def months_chart(months: Sequence[Month], *, found: FleetCondition) -> Chart:
    """The condition index at the end of each month, and today."""
    return Chart(
        code="months",
        title=gettext("Condition index over time"),
        summary=months_summary(months, settings=found.trade.settings),
        form="line",
        labels=[_month_name(month, today=found.today) for month in months],
        series=[
            Series(gettext("Condition index"), [None if one.index is None else float(one.index) for one in months])
        ],
        formatter=percent_of,
    )


def percent_of(value: float) -> str:
    return f"{value * 100:.3g}%"


def months_summary(months: Sequence[Month], *, settings: Mapping[str, Decimal]) -> str:
    known = [month for month in months if month.index is not None]
    if not known:
        return gettext("No history yet: the nightly work saves the index at the end of each month.")
    first, last = known[0], known[-1]
    data = {
        "first": full_day(first.ends_on),
        "last": full_day(last.ends_on),
        "from": index_words(first),
        "to": index_words(last),
        "band": BANDS[index_band(last.index or Decimal(0), settings=settings)],
    }
    if len(known) == 1:
        return gettext("On %(last)s the condition index was %(to)s: %(band)s.") % data
    if data["from"] == data["to"]:
        return gettext("From %(first)s to %(last)s the condition index stayed at %(to)s: %(band)s.") % data
    if (last.index or 0) > (first.index or 0):
        return gettext("From %(first)s to %(last)s the condition index rose from %(from)s to %(to)s: %(band)s.") % data
    return gettext("From %(first)s to %(last)s the condition index fell from %(from)s to %(to)s: %(band)s.") % data


def month_lines(months: Iterable[Month], *, today: date) -> list[dict[str, Any]]:
    """The same, newest first."""
    return [
        {
            "name": _month_name(month, today=today),
            "instruments": f"{month.instruments:,}",
            "cost": dollars(round(month.repair)),
            "value": dollars(round(month.replacement)),
            "index": index_words(month),
        }
        for month in reversed(list(months))
    ]


def band_lines(settings: Mapping[str, Decimal]) -> list[str]:
    """The bands of the index, as the district has set them."""
    lines = [
        gettext("%(band)s up to %(share)s") % {"band": str(BANDS[band]), "share": percent(settings[name])}
        for band, name in CUT_POINTS
    ]
    last = str(BANDS[list(BANDS)[-1]])
    return [*lines, gettext("%(band)s above that") % {"band": last}]


def page_of(found: FleetCondition, months: Sequence[Month], *, names: Mapping[int, str], of: str) -> dict[str, Any]:
    """What page and paper show. ``of`` names the schools."""
    months = until_today(months, found=found)
    return {
        "of": of,
        "today": found.today,
        "answer": answer_of(found),
        "stats": stats_of(found),
        "groups": groups_of(found, names=names),
        "months": month_lines(months, today=found.today),
        "months_chart": months_chart(months, found=found),
        "bands": band_lines(found.trade.settings),
        "not_inspected": found.total.verdicts[Verdict.NOT_INSPECTED],
    }


# Files


def group_rows(lines: Iterable[Mapping[str, Any]]) -> Iterator[tuple[OutValue, ...]]:
    for line in lines:
        one: Condition = line["condition"]
        yield (
            line["name"], one.instruments, *(one.verdicts[verdict] for verdict in VERDICT_LABELS),
            *(one.readiness[readiness] for readiness in READINESS_LABELS), one.to_repair,
            round(Decimal(one.hours), 1), one.repair, one.replacement,
            None if one.index is None else Share(round(one.index, 4)),
        )  # fmt: skip


def month_rows(months: Iterable[Month]) -> Iterator[tuple[OutValue, ...]]:
    for month in months:
        index = None if month.index is None else Share(round(month.index, 4))
        yield month.ends_on, month.instruments, month.repair, month.replacement, index
