"""Rows that another program of the district reads: some at a time, in the order of their keys, of its schools alone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, QuerySet

from desk.selectors.value import Valued, trade_of, valued
from inventory.models import Finding, Instrument, Integration, School, SchoolRowsQuerySet
from inventory.models.places import Row
from inventory.selectors.fleet import readiness_on
from inventory.selectors.past import AsOf
from loans.models import Loan
from repairs.models import Job


@dataclass(frozen=True, slots=True)
class Slice:
    """How far somebody has read, how many they want next, and whether of one school or one instrument alone."""

    limit: int
    after: str = ""
    school: str = ""
    asset_number: str = ""


def at_schools(rows: SchoolRowsQuerySet[Row], integration: Integration, school: str = "") -> QuerySet[Row]:
    """The rows of the schools that the token opens; of one of them, where its code is given."""
    way = rows.way_to_school
    if integration.school_id is not None:
        rows = rows.filter(**{way: integration.school_id})
    return rows.filter(**{"code" if way == "pk" else f"{way}__code": school}) if school else rows


def schools_for(integration: Integration) -> QuerySet[School]:
    return at_schools(School.objects.all(), integration).prefetch_related("rooms").order_by("code")


def instruments_for(
    integration: Integration, part: Slice, *, today: date, kind: str = "", whereabouts: str = ""
) -> list[Instrument]:
    """Instruments by number, those that have left the fleet too; not what was merged away or entered in error."""
    rows = Instrument.objects.filter(merged_into=None, is_entered_in_error=False, asset_number__gt=part.after)
    rows = rows.filter(kind_code=kind) if kind else rows
    rows = rows.filter(whereabouts=whereabouts) if whereabouts else rows
    rows = rows.filter(asset_number=part.asset_number) if part.asset_number else rows
    rows = at_schools(rows, integration, part.school)  # type: ignore[assignment]  # filtered, still instruments
    standing = Prefetch("findings", Finding.objects.standing(), to_attr="standing")
    found = rows.annotate(readiness_today=readiness_on(today)).order_by("asset_number")[: part.limit]
    return list(found.select_related("school", "room").prefetch_related(standing))


def loans_for(integration: Integration, part: Slice, *, is_open: bool) -> list[Loan]:
    """Loans as they were made, without those taken back as a mistake; who has the instrument is not read."""
    rows = Loan.objects.not_undone().filter(pk__gt=part.after or 0)
    rows = rows.open() if is_open else rows
    found = at_schools(rows, integration, part.school).order_by("pk")[: part.limit]
    return list(
        found.select_related("school", "instrument").only(
            "lent_on", "due_on", "returned_at", "is_lost", "school__code", "instrument__asset_number"
        )
    )


def jobs_for(integration: Integration, part: Slice, *, is_open: bool) -> list[Job]:
    rows = Job.objects.filter(pk__gt=part.after or 0)
    rows = rows.open() if is_open else rows
    found = at_schools(rows, integration, part.school).order_by("pk")[: part.limit]
    return list(found.select_related("bench", "instrument", "instrument__school"))


def values_for(integration: Integration, part: Slice, *, on: date) -> tuple[list[Valued], str]:
    """What was held at the end of a day, and the number of the last one looked at; "" where that was the end."""
    rows = at_schools(Instrument.objects.filter(asset_number__gt=part.after), integration, part.school)
    keys: Iterable[tuple[int, str]] = rows.order_by("asset_number").values_list("pk", "asset_number")[: part.limit]
    keys = list(keys)
    as_of = AsOf(on=on)
    found = valued(as_of, trade=trade_of(as_of), rows=Instrument.objects.filter(pk__in=[pk for pk, _ in keys]))
    return list(found), keys[-1][1] if len(keys) == part.limit else ""
