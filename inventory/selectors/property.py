"""The property record: which of its fields are missing, and of which instruments.

Source of the list: 2 CFR 200.313(d)(1), revision of 2024. It binds only what a federal award paid for, in whole or part.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Hashable, Mapping
from datetime import date
from typing import Any, Final

from django.db.models import Case, Count, Q, QuerySet, When

from inventory.models import Instrument, InstrumentQuerySet, School, Whereabouts, in_use_on
from inventory.selectors.school_sums import SchoolSums

# A federal award paid, or there is an award and nobody has said that it is none of the federal government's (0 percent).
AWARDED: Final = ~Q(award_number="") & Q(federal_percent=None)
FEDERAL: Final = Q(federal_percent__gt=0) | AWARDED
# What a scope takes in of everything the district holds.
SCOPES: Final[Mapping[str, Q]] = {"all": Q(), "federal": FEDERAL, "in_use": in_use_on()}
# By the code of a field: what is true of an instrument whose record lacks it. A kind and a number every record has; the
# title is the district's where nobody else holds it; where it is in use, its whereabouts say.
MISSING: Final[Mapping[str, Q]] = {
    "funding": Q(funding_source=""),
    "award": FEDERAL & Q(award_number=""),
    "award_date": FEDERAL & Q(awarded_on=None),
    "acquired": Q(acquired_on=None),
    "cost": Q(acquisition_cost_amount=None),
    "percent": AWARDED,
    "location": Q(whereabouts=Whereabouts.NOT_FOUND) | Q(whereabouts=Whereabouts.IN_STORE, room=None, place=""),
    "condition": Q(inspected_at=None),
    "serial": Q(serial=""),
    "vendor": Q(vendor=""),
    "invoice": Q(order_number="", invoice_number=""),
    "warranty": Q(warranty_until=None),
    "price": Q(replacement_amount=None),
}
RULED: Final = ("funding", "award", "award_date", "acquired", "cost", "percent", "location", "condition")  # by the rule
ANY = "any"  # whatever the rule asks
ALL = "all"  # counts what is held


def missing_any() -> Q:
    found = Q()
    for code in RULED:
        found |= MISSING[code]
    return found


def lacking(code: str) -> Q:
    """Return the condition of what lacks a field, or any that the rule asks."""
    return missing_any() if code == ANY else MISSING[code]


def held(rows: InstrumentQuerySet, *, scope: str, without: str = "") -> InstrumentQuerySet:
    """Narrow to what is held in this scope, and lacks this field if one is named."""
    rows = rows.present().filter(SCOPES[scope])
    return rows.filter(lacking(without)) if without else rows


def with_missing(rows: InstrumentQuerySet) -> InstrumentQuerySet:
    """Have each row say which of the fields that the rule asks it lacks, as ``lacks_CODE``."""
    return rows.annotate(**{f"lacks_{code}": Case(When(MISSING[code], then=True), default=False) for code in RULED})


def _read(schools: Collection[int], _today: date, scope: Hashable) -> dict[int, Counter[str]]:
    found: dict[int, Counter[str]] = {school: Counter() for school in schools}
    rows: QuerySet[Any, Any] = held(Instrument.objects.filter(school__in=schools), scope=str(scope)).order_by()
    counts = {code: Count("pk", filter=lacking(code)) for code in (*MISSING, ANY)}
    for line in rows.values("school").annotate(**{ALL: Count("pk")}, **{f"n_{code}": n for code, n in counts.items()}):
        school = line.pop("school")
        found[school] = Counter({name.removeprefix("n_"): count for name, count in line.items()})
    return found


_sums: SchoolSums[Counter[str]] = SchoolSums(_read)


def missing_counts(schools: QuerySet[School], *, scope: str, today: date) -> Counter[str]:
    """Return how many lack each field, how many any that the rule asks, and how many there are. Two queries at most."""
    total: Counter[str] = Counter()
    for one in _sums.of(schools, today=today, variant=scope).values():
        total.update(one)
    return total
