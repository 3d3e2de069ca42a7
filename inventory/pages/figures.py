"""Words of the pages of figures: each with its value, where it comes from, and what is to come."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from inventory.catalog.figures import FigureRule
from inventory.catalog.schema import Origin
from inventory.models import Figure

GROUPS = (
    ("money", _("Money")),
    ("time", pgettext_lazy("hours", "Time")),
    ("replace", _("Repair or replace")),
    ("value", _("Inventory value")),
    ("care", _("Inspections and use")),
    ("intervals", _("Cleaning and care, how often")),
    ("assign", _("Who gets which instrument")),
    ("notices", _("Reminders and letters to families")),
    ("rules", _("Figures the rules use")),
    ("prices", _("Prices, lives and upkeep of each kind")),
    ("minutes", _("Minutes of each bench operation")),
    ("odds", _("Chances of each way to free a stuck part")),
)
LONG = {"prices", "minutes", "odds"}  # shown when asked for alone
BENEATH = {
    Origin.PUBLISHED: _("published"),
    Origin.COMMON: _("common practice"),
    Origin.DEFAULT: _("shop default, replace with your own"),
}


def groups_of(
    rules: Mapping[str, FigureRule],
    *,
    values: Mapping[str, str],
    rows: Mapping[str, Figure],
    to_come: Mapping[str, Figure],
    typed: str = "",
    only: str = "",
) -> list[dict[str, Any]]:
    """Every figure under its heading, or those that hold the words typed; ``rows`` are what the values were set by.

    Of the long headings there is only the count, unless one of them is asked for as ``only``.
    """
    groups = []
    for code, title in GROUPS:
        if only not in {"", code}:
            continue
        lines = [
            line_of(rule, value=values.get(rule.key, ""), row=rows.get(rule.key), next_row=to_come.get(rule.key))
            for rule in rules.values()
            if rule.group == code and holds(typed, rule.name, str(title), rule.note)
        ]
        if lines:
            is_shut = code in LONG and not typed and not only
            shown = [] if is_shut else lines
            groups.append({"code": code, "title": title, "lines": shown, "tally": tally_of(lines), "is_shut": is_shut})
    return groups


def holds(typed: str, *texts: str) -> bool:
    """Whether each of the words typed stands in one of the texts, whole or in part, in whatever case."""
    text = "\n".join(texts).casefold()
    return all(word in text for word in typed.casefold().split())


def tally_of(lines: Sequence[Mapping[str, Any]]) -> str:
    """How many figures a fold holds, and how many of them are the district's own: "14, 2 your own"."""
    own = sum(line["is_own"] for line in lines)
    return gettext("%(count)s, %(own)s your own") % {"count": len(lines), "own": own} if own else str(len(lines))


def line_of(rule: FigureRule, *, value: str, row: Figure | None, next_row: Figure | None) -> dict[str, Any]:
    return {
        "name": rule.name,
        "url": reverse("inventory:figure", args=[rule.key]),
        "value": rule.in_words(value or rule.default),
        "is_own": bool(value),
        "origin": origin_words(rule, value=value, row=row),
        "next": next_words(rule, next_row) if next_row else "",
    }


def origin_words(rule: FigureRule, *, value: str, row: Figure | None) -> str:
    """Where the value that holds comes from: "set by the district on Nov 29, 2026"."""
    if value and row is not None:
        return gettext("set by the district on %(day)s") % {"day": full_day(timezone.localdate(row.set_at))}
    return str(BENEATH[rule.origin])


def next_words(rule: FigureRule, row: Figure) -> str:
    words = {"value": rule.in_words(row.value or rule.default), "day": full_day(row.effective_on)}
    return gettext("%(value)s from %(day)s") % words


def history_of(
    rule: FigureRule, rows: Sequence[Figure], *, next_row: Figure | None, reasons: Mapping[int, str]
) -> list[dict[str, Any]]:
    """Every value that was set, the newest day first; one that has not begun and counts can be called off."""
    return [
        {
            "pk": row.pk,
            "value": rule.in_words(row.value) if row.value else gettext("%(value)s, the default") % {
                "value": rule.in_words(rule.default)
            },
            "from": full_day(row.effective_on),
            "set": gettext("%(person)s on %(day)s") % {
                "person": row.set_by or gettext("set up"), "day": full_day(timezone.localdate(row.set_at))
            },
            "because": reasons.get(row.pk, ""),
            "may_call_off": next_row is not None and row.pk == next_row.pk,
        }
        for row in rows
    ]  # fmt: skip
