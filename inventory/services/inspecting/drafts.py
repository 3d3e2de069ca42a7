"""The walk as a draft. Every tap is one small act that is kept at once, so a lost connection loses nothing."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction

from core.models import User
from inventory.catalog.load import catalog
from inventory.catalog.schema import Part
from inventory.exceptions import InspectionClosedError, RefusedError
from inventory.models import Finding, Inspection, Instrument, PartLook, Severity
from inventory.services.event_log import log_event


@transaction.atomic
def start_inspection(
    *,
    instrument: Instrument,
    purpose: str,
    actor: User,
    at: datetime,
    compared_with: Inspection | None = None,
) -> Inspection:
    """Begin a walk, or take up the draft of the same purpose that is there already."""
    draft = Inspection.objects.drafts().filter(instrument=instrument, purpose=purpose).first()
    if draft:
        return draft
    try:
        with transaction.atomic():
            return Inspection.objects.create(
                instrument=instrument, purpose=purpose, actor=actor, started_at=at, compared_with=compared_with
            )
    except IntegrityError:
        return Inspection.objects.drafts().get(instrument=instrument, purpose=purpose)


def open_draft(inspection: Inspection) -> Inspection:
    """The draft, locked for this transaction; refuses one that somebody has finished meanwhile."""
    fresh = Inspection.objects.select_for_update().select_related("instrument").get(pk=inspection.pk)
    if not fresh.is_draft:
        raise InspectionClosedError
    return fresh


def part_of(*, instrument: Instrument, code: str) -> Part:
    for part in instrument.parts:
        if part.code == code:
            return part
    raise RefusedError(f"This {instrument.kind.name.lower()} has no part called {code}.")


@transaction.atomic
def look_at_part(*, inspection: Inspection, part: str, actor: User, at: datetime) -> None:
    """Say that the part is fine: findings entered for it in this walk are taken back."""
    draft = open_draft(inspection)
    part_of(instrument=draft.instrument, code=part)
    draft.findings.filter(part=part).delete()
    PartLook.objects.update_or_create(inspection=draft, part=part, defaults={"looked_at": at})


@transaction.atomic
def look_at_rest(*, inspection: Inspection, actor: User, at: datetime, after_part: str = "") -> int:
    """All fine from here: every part from ``after_part`` on that has no finding. Returns how many."""
    draft = open_draft(inspection)
    codes = [part.code for part in draft.instrument.parts]
    begin = codes.index(after_part) if after_part in codes else 0
    seen = set(draft.findings.values_list("part", flat=True)) | set(draft.looks.values_list("part", flat=True))
    rest = [code for code in codes[begin:] if code not in seen]
    PartLook.objects.bulk_create(
        [PartLook(inspection=draft, part=code, looked_at=at) for code in rest], ignore_conflicts=True
    )
    return len(rest)


@transaction.atomic
def record_finding(
    *,
    inspection: Inspection,
    part: str,
    fault: str,
    severity: str,
    actor: User,
    at: datetime,
    place: str = "",
    detail: str = "",
    note: str = "",
) -> Finding:
    """Enter a fault at a part; the same fault at the same place again changes its severity and note."""
    draft = open_draft(inspection)
    stop = part_of(instrument=draft.instrument, code=part)
    trade = catalog()
    if fault not in trade.roles[stop.role].faults:
        raise RefusedError(f"{fault} does not fit the {stop.name}.")
    if place and place not in {spot.code for spot in stop.places}:
        raise RefusedError(f"The {stop.name} has no place called {place}.")
    if severity not in Severity.values:
        raise RefusedError("Say whether it is light, moderate or severe.")
    finding, _ = Finding.objects.update_or_create(
        inspection=draft,
        part=part,
        place=place,
        fault=fault,
        defaults={
            "instrument": draft.instrument,
            "severity": severity,
            "detail": detail,
            "note": note[:10_000],
            "found_at": at,
        },
    )
    PartLook.objects.filter(inspection=draft, part=part).delete()
    return finding


@transaction.atomic
def record_findings(
    *,
    inspection: Inspection,
    part: str,
    fault: str,
    severity: str,
    places: Sequence[str],
    actor: User,
    at: datetime,
    detail: str = "",
    note: str = "",
) -> None:
    """Enter one fault at several places of a part, all or none of them; no place means the part as a whole."""
    first, *others = places or [""]
    said = {"severity": severity, "detail": detail, "note": note[:10_000]}
    entered = record_finding(inspection=inspection, part=part, fault=fault, place=first, actor=actor, at=at, **said)
    instrument = entered.instrument
    stop = part_of(instrument=instrument, code=part)
    unknown = set(others) - {spot.code for spot in stop.places}
    if unknown:
        raise RefusedError(f"The {stop.name} has no place called {', '.join(sorted(unknown))}.")
    Finding.objects.bulk_create(
        [
            Finding(
                inspection_id=inspection.pk,
                instrument=instrument,
                part=part,
                place=place,
                fault=fault,
                found_at=at,
                **said,
            )
            for place in dict.fromkeys(others)
        ],
        update_conflicts=True,
        unique_fields=["inspection", "part", "place", "fault"],
        update_fields=["severity", "detail", "note", "found_at"],
    )


@transaction.atomic
def take_back_finding(*, finding: Finding, actor: User) -> None:
    """Remove a finding that was tapped by mistake, while the walk is still a draft."""
    draft = open_draft(finding.inspection)
    draft.findings.filter(pk=finding.pk).delete()


@transaction.atomic
def answer_safety(*, inspection: Inspection, is_safe: bool, actor: User, at: datetime, because: str = "") -> None:
    """Safe to handle? 'No' holds the instrument apart and asks for no more."""
    draft = open_draft(inspection)
    Inspection.objects.filter(pk=draft.pk).update(is_safe=is_safe, unsafe_because="" if is_safe else because)


@transaction.atomic
def drop_inspection(*, inspection: Inspection, actor: User, at: datetime) -> None:
    """Give up a draft; what stood before stands."""
    draft = open_draft(inspection)
    Inspection.objects.filter(pk=draft.pk).update(dropped_at=at)
    log_event(
        instrument=draft.instrument,
        act="inspection_dropped",
        subject=draft,
        actor=actor,
        at=at,
        after={"purpose": draft.purpose},
    )
