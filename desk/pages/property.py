"""The property record in words: its fields, what is missing, its files."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.sheets import OutValue
from desk.selectors.property import PropertyFacts, maintenance_of, property_facts
from inventory.catalog.load import catalog
from inventory.models import VERDICT_LABELS, Instrument, InstrumentQuerySet, Verdict, Whereabouts
from inventory.selectors.property import ALL, ANY, MISSING, RULED, with_missing
from inventory.selectors.setup import district_name

LABELS: Mapping[str, Promise] = {
    "funding": _("funding source"),
    "award": _("award number"),
    "award_date": _("award date"),
    "acquired": _("acquisition date"),
    "cost": _("cost"),
    "percent": _("federal percent"),
    "location": _("location"),
    "condition": _("condition"),
    "serial": _("serial number"),
    "vendor": _("vendor"),
    "invoice": _("order or invoice number"),
    "warranty": _("warranty date"),
    "price": _("replacement cost"),
}
SCOPE_LABELS: Mapping[str, Promise] = {
    "all": _("Everything held"),
    "federal": _("Paid for by a federal award"),
    "in_use": _("In use"),
}
HEADER = (
    _("Asset number"), _("Serial"), _("Description"), _("Funding source"), _("Award number"), _("Award date"),
    _("Title holder"), _("Acquired on"), _("Cost"), _("Federal percent"), _("School"), _("Location"), _("Use"),
    _("Condition"), _("Inspected on"), _("Maintained on"), _("Vendor"), _("Purchase order"), _("Invoice number"),
    _("Warranty until"), _("Disposed of on"), _("How"), _("Sale price"), _("Missing"),
)  # fmt: skip
AT_ONCE = 1000
# On paper there is room for what the rule asks: these columns, by their places in HEADER.
ON_PAPER = (0, 1, 2, 3, 4, 6, 7, 8, 9, 10, 11, 12, 13, 20, 22, 23)


def lacking_url(code: str, *, scope: str = "all") -> str:
    """Return where the records without a field are listed."""
    return f"{reverse('desk:property')}?{urlencode({'scope': scope, 'without': code})}"


def count_lines(counts: Counter[str], *, scope: str) -> list[dict[str, Any]]:
    """How many lack each field, each linked to its rows; those that the rule asks first."""
    return [
        {
            "label": LABELS[code],
            "count": counts[code],
            "is_asked": code in RULED,
            "url": lacking_url(code, scope=scope),
        }
        for code in MISSING
    ]


def summary(counts: Counter[str], *, scope: str) -> list[dict[str, Any]]:
    """How many there are, and how many have every field that the rule asks."""
    url = f"{reverse('desk:property')}?{urlencode({'scope': scope})}"
    lacking = f"{url}&{urlencode({'without': ANY})}"
    return [
        {"sum": f"{counts[ALL]:,}", "what": gettext("instruments"), "url": url},
        {"sum": f"{counts[ALL] - counts[ANY]:,}", "what": gettext("complete"), "url": ""},
        {"sum": f"{counts[ANY]:,}", "what": gettext("with something missing"), "url": lacking},
    ]


def missing_words(row: Instrument) -> list[str]:
    """The fields that the rule asks and its record lacks."""
    return [str(LABELS[code]) for code in RULED if getattr(row, f"lacks_{code}")]


def record_rows(rows: InstrumentQuerySet) -> Iterator[tuple[OutValue, ...]]:
    """The property record as the lines of a file, by number."""
    owner, last = district_name(), ""
    rows = rows.order_by("asset_number")
    while some := list(with_missing(rows.filter(asset_number__gt=last)).for_table()[:AT_ONCE]):
        last = some[-1].asset_number
        facts = property_facts([row.pk for row in some])
        for row in some:
            yield _line(row, facts[row.pk], owner=owner)


def _line(row: Instrument, facts: PropertyFacts, *, owner: str) -> tuple[OutValue, ...]:
    gone = facts.disposal
    kind = catalog().kind(row.kind_code).name
    return (
        row.asset_number, row.serial, ", ".join(filter(None, (kind, row.maker, row.model))), row.funding_source,
        row.award_number, row.awarded_on, row.title_holder or owner, row.acquired_on, row.acquisition_cost_amount,
        row.federal_percent, row.school.name, location_words(row), use_words(row), str(VERDICT_LABELS[Verdict(row.verdict)]),
        timezone.localdate(row.inspected_at) if row.inspected_at else None, facts.maintained_on, row.vendor,
        row.order_number, row.invoice_number, row.warranty_until, gone.on if gone else None,
        str(gone.get_way_display()) if gone else "", gone.proceeds_amount if gone else None,
        "" if gone else ", ".join(missing_words(row)),
    )  # fmt: skip


def location_words(row: Instrument) -> str:
    """Room and place, or where else it is."""
    if row.whereabouts in {Whereabouts.GONE, Whereabouts.NOT_FOUND}:
        return str(row.get_whereabouts_display())
    return ", ".join(filter(None, (row.room.name if row.room else "", row.place)))


def use_words(row: Instrument) -> str:
    """What it is used for: the use of the rule."""
    if row.is_parts_instrument:
        return gettext("Kept for parts")
    if row.is_retired:
        return gettext("Retired")
    if row.whereabouts == Whereabouts.GONE:
        return ""
    return str(row.get_whereabouts_display()) if row.whereabouts != Whereabouts.IN_STORE else gettext("Band program")


# Maintenance of one instrument

SORTS: Mapping[str, Promise] = {
    "care": _("Care"),
    "inspected": _("Inspected"),
    "job": _("Repair"),
    "shop": _("Outside shop"),
    "cleaned": _("Cleaned"),
}
MAINTENANCE_HEADER = (_("Date"), _("What"), _("Details"), _("By"))


def maintenance_rows(instrument: Instrument) -> list[tuple[OutValue, ...]]:
    return [(one.on, str(SORTS[one.sort]), one.what, one.who) for one in maintenance_of(instrument)]
