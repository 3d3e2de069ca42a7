"""The walks of an instrument: what each has gathered, and what was known before it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.catalog.schema import MISSING_PART
from inventory.models import Accessory, Finding, Inspection, Instrument, ListRemark, Photo, Purpose


@dataclass(frozen=True, slots=True)
class WalkRows:
    """A draft's rows. ``before`` is the walk it is compared with, else the findings that stand."""

    findings: tuple[Finding, ...] = ()
    before: tuple[Finding, ...] = ()
    checked: frozenset[str] = frozenset()  # codes of the parts that were found fine
    photos: tuple[Photo, ...] = ()
    accessories: tuple[Accessory, ...] = ()


def known_before(inspection: Inspection) -> QuerySet[Finding]:
    """Return the findings of the walk it is compared with, else those that stand."""
    other = inspection.compared_with
    return other.findings.all() if other else Finding.objects.filter(instrument=inspection.instrument).standing()


def walk_rows(inspection: Inspection) -> WalkRows:
    """Five queries."""
    return WalkRows(
        findings=tuple(inspection.findings.all()),
        before=tuple(known_before(inspection)),
        checked=frozenset(inspection.looks.values_list("part", flat=True)),
        photos=tuple(inspection.photos.all()),
        accessories=tuple(inspection.instrument.accessories.all()),
    )


def remarks_unread(instrument: Instrument) -> list[str]:
    """What an imported list said of it, until somebody inspects it."""
    if instrument.inspected_at is not None and instrument.inspected_at >= instrument.registered_at:
        return []  # a list speaks when it is registered, and is asked about no more
    rows = ListRemark.objects.filter(instrument=instrument).unread(since=instrument.inspected_at)
    return list(rows.values_list("text", flat=True))


def missing_parts(findings: Iterable[Finding]) -> frozenset[str]:
    """Codes of the parts that were found missing."""
    return frozenset(one.part for one in findings if one.fault == MISSING_PART)


def without_missing(
    counts: Mapping[str, int], *, accessories: Iterable[Accessory], findings: Iterable[Finding]
) -> dict[str, int]:
    """Return the counts less what was found missing as a part: it is not there, whatever was counted in one tap."""
    gone = missing_parts(findings)
    most = {one.code: max(0, one.expected - 1) for one in accessories if one.code in gone}
    return {code: min(count, most.get(code, count)) for code, count in counts.items()}


def begun_purposes(instrument: Instrument) -> frozenset[str]:
    """The purposes for which a walk is open."""
    return frozenset(instrument.inspections.drafts().values_list("purpose", flat=True))


def newest_hand_out(instrument: Instrument) -> Inspection | None:
    """The finished hand-out walk that a return is compared with."""
    return instrument.inspections.finished().filter(purpose=Purpose.HAND_OUT).order_by("-finished_at", "-pk").first()


def newest_finished(instrument: Instrument) -> Inspection | None:
    """The walk that speaks for the instrument; not one of another kind that it was entered as."""
    return instrument.inspections.finished().filter(under_kind="").order_by("-finished_at", "-pk").first()


def instrument_now(inspection: Inspection) -> Instrument:
    """The instrument as it is stored now, with its school."""
    return Instrument.objects.select_related("school").get(pk=inspection.instrument_id)
