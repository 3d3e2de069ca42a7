"""The inspection walk. Every tap is one small act that is kept at once, so a lost connection loses nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import IntegrityError, transaction

from core.models import User
from inventory.catalog.load import catalog
from inventory.catalog.schema import Part
from inventory.exceptions import InspectionClosedError, RefusedError
from inventory.models import Closed, Finding, Inspection, Instrument, PartLook, Purpose, Severity
from inventory.services.state import refresh_state
from inventory.services.telling import tell


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


def _open(inspection: Inspection) -> Inspection:
    """The draft, locked for this transaction; refuses one that somebody has finished meanwhile."""
    fresh = Inspection.objects.select_for_update().select_related("instrument").get(pk=inspection.pk)
    if not fresh.is_draft:
        raise InspectionClosedError
    return fresh


def _part(instrument: Instrument, code: str) -> Part:
    for part in instrument.parts:
        if part.code == code:
            return part
    raise RefusedError(f"This {instrument.kind.name.lower()} has no part called {code}.")


@transaction.atomic
def look_at_part(*, inspection: Inspection, part: str, actor: User, at: datetime) -> None:
    """This part is fine: findings entered for it in this walk are taken back."""
    draft = _open(inspection)
    _part(draft.instrument, part)
    draft.findings.filter(part=part).delete()
    PartLook.objects.update_or_create(inspection=draft, part=part, defaults={"looked_at": at})


@transaction.atomic
def look_at_rest(*, inspection: Inspection, actor: User, at: datetime, after_part: str = "") -> int:
    """All fine from here: every part from ``after_part`` on that has no finding. Returns how many."""
    draft = _open(inspection)
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
    draft = _open(inspection)
    stop = _part(draft.instrument, part)
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
    stop = _part(instrument, part)
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
    draft = _open(finding.inspection)
    draft.findings.filter(pk=finding.pk).delete()


@transaction.atomic
def answer_safety(*, inspection: Inspection, is_safe: bool, actor: User, at: datetime, because: str = "") -> None:
    """Safe to handle? 'No' holds the instrument apart and asks for no more."""
    draft = _open(inspection)
    Inspection.objects.filter(pk=draft.pk).update(is_safe=is_safe, unsafe_because="" if is_safe else because)


@transaction.atomic
def count_accessories(
    *,
    instrument: Instrument,
    counts: Mapping[str, int],
    actor: User,
    at: datetime,
    inspection: Inspection | None = None,
) -> None:
    """Note how many of each accessory are there. Within a draft the counts are kept with it until it is finished."""
    known = {row.code: row for row in instrument.accessories.all()}
    unknown = set(counts) - set(known)
    if unknown:
        raise RefusedError(f"Not an accessory of this instrument: {', '.join(sorted(unknown))}.")
    if inspection is not None:
        draft = _open(inspection)
        Inspection.objects.filter(pk=draft.pk).update(accessory_counts={**draft.accessory_counts, **counts})
        return
    _store_counts(instrument, counts)
    tell(
        instrument=instrument,
        act="accessories_counted",
        actor=actor,
        at=at,
        after={"counts": dict(counts)},
    )
    refresh_state(instrument=instrument, actor=actor, at=at)


def _store_counts(instrument: Instrument, counts: Mapping[str, int]) -> None:
    for row in instrument.accessories.filter(code__in=list(counts)):
        if row.present != counts[row.code]:
            instrument.accessories.filter(pk=row.pk).update(present=counts[row.code])


@transaction.atomic
def finish_inspection(*, inspection: Inspection, actor: User, at: datetime, note: str = "") -> Inspection:
    """Close the walk and let it speak for the instrument.

    A part that was looked at (fine, or with findings) replaces what was known of it; a part that nobody looked at
    keeps its standing findings. Verdict and readiness follow in the same transaction.
    """
    draft = _open(inspection)
    instrument = draft.instrument
    if draft.is_safe is None:
        raise RefusedError("Say first whether it is safe to handle.")
    found = list(draft.findings.all())
    looked = set(draft.looks.values_list("part", flat=True)) | {finding.part for finding in found}
    if not looked and draft.is_safe:
        raise RefusedError("No part has been looked at yet.")
    if draft.is_safe is False:
        _note_unsafe(draft, at)
        found = list(draft.findings.all())
        looked |= {finding.part for finding in found}
    again = {(finding.part, finding.place, finding.fault) for finding in found}
    for old in Finding.objects.filter(instrument=instrument, part__in=looked).standing():
        key = (old.part, old.place, old.fault)
        Finding.objects.filter(pk=old.pk).update(
            closed_at=at,
            closed_because=Closed.SEEN_AGAIN if key in again else Closed.NOT_SEEN,
            closed_reference=f"inspection:{draft.pk}",
        )
    _store_counts(instrument, draft.accessory_counts)
    Inspection.objects.filter(pk=draft.pk).update(finished_at=at, note=note or draft.note)
    state = refresh_state(instrument=instrument, actor=actor, at=at)
    Inspection.objects.filter(pk=draft.pk).update(verdict=state.verdict)
    tell(
        instrument=instrument,
        act="inspected",
        subject=draft,
        actor=actor,
        at=at,
        after={
            "purpose": draft.purpose,
            "findings": len(found),
            "parts": len(looked),
            "verdict": state.verdict,
        },
    )
    return Inspection.objects.get(pk=draft.pk)


def _note_unsafe(draft: Inspection, at: datetime) -> None:
    """An answer 'not safe' becomes a finding, so that it stops the instrument like any other fault."""
    parts = draft.instrument.parts
    stop = next((part for part in parts if part.role == "case"), parts[0])
    fits = catalog().roles[stop.role].faults
    wanted = "odor_mold" if "mold" in draft.unsafe_because.lower() else "unsafe_to_handle"
    fault = next((code for code in (wanted, "unsafe_to_handle", "odor_mold") if code in fits), fits[0])
    Finding.objects.update_or_create(
        inspection=draft,
        part=stop.code,
        place="",
        fault=fault,
        defaults={
            "instrument": draft.instrument,
            "severity": Severity.SEVERE,
            "note": draft.unsafe_because or "Not safe to handle.",
            "found_at": at,
        },
    )


@transaction.atomic
def drop_inspection(*, inspection: Inspection, actor: User, at: datetime) -> None:
    """Give up a draft; what stood before stands."""
    draft = _open(inspection)
    Inspection.objects.filter(pk=draft.pk).update(dropped_at=at)
    tell(
        instrument=draft.instrument,
        act="inspection_dropped",
        subject=draft,
        actor=actor,
        at=at,
        after={"purpose": draft.purpose},
    )


@transaction.atomic
def carry_over_inspection(
    *, instrument: Instrument, purpose: str, actor: User, at: datetime, finish: bool = False
) -> Inspection:
    """Begin a walk filled from what is known: every part fine but those with standing findings.

    For the hand-out, where the last inspection still holds unless somebody sees otherwise.
    """
    draft = start_inspection(instrument=instrument, purpose=purpose, actor=actor, at=at)
    if not draft.findings.exists() and not draft.looks.exists():
        standing = list(Finding.objects.filter(instrument=instrument).standing())
        Finding.objects.bulk_create(
            Finding(
                inspection=draft,
                instrument=instrument,
                part=old.part,
                place=old.place,
                fault=old.fault,
                severity=old.severity,
                detail=old.detail,
                note=old.note,
                found_at=at,
            )
            for old in standing
        )
        faulty = {old.part for old in standing}
        PartLook.objects.bulk_create(
            PartLook(inspection=draft, part=stop.code, looked_at=at)
            for stop in instrument.parts
            if stop.code not in faulty
        )
        Inspection.objects.filter(pk=draft.pk, is_safe=None).update(is_safe=True)
    return finish_inspection(inspection=draft, actor=actor, at=at) if finish else draft


@transaction.atomic
def close_findings(
    *, instrument: Instrument, finding_ids: list[int], because: str, reference: str, actor: User, at: datetime
) -> int:
    """Close standing findings that a repair has put right (or that were entered by mistake)."""
    closed = Finding.objects.filter(instrument=instrument, pk__in=finding_ids, closed_at=None).update(
        closed_at=at, closed_because=because, closed_reference=reference
    )
    if closed:
        tell(
            instrument=instrument,
            act="findings_closed",
            actor=actor,
            at=at,
            after={"findings": sorted(finding_ids), "because": because, "reference": reference},
        )
        refresh_state(instrument=instrument, actor=actor, at=at)
    return closed


@transaction.atomic
def add_bench_finding(
    *,
    instrument: Instrument,
    part: str,
    fault: str,
    severity: str,
    actor: User,
    at: datetime,
    place: str = "",
    detail: str = "",
    note: str = "",
) -> Finding:
    """Something new seen on the bench: a small finished inspection of that part alone, others untouched."""
    walk = (
        Inspection.objects.create(
            instrument=instrument, purpose=Purpose.BENCH, actor=actor, started_at=at, is_safe=True
        )
        if not Inspection.objects.drafts().filter(instrument=instrument, purpose=Purpose.BENCH).exists()
        else (Inspection.objects.drafts().get(instrument=instrument, purpose=Purpose.BENCH))
    )
    for old in Finding.objects.filter(instrument=instrument, part=part).standing():
        if (old.place, old.fault) != (place, fault):
            Finding.objects.get_or_create(
                inspection=walk,
                part=part,
                place=old.place,
                fault=old.fault,
                defaults={
                    "instrument": instrument,
                    "severity": old.severity,
                    "detail": old.detail,
                    "note": old.note,
                    "found_at": old.found_at,
                },
            )
    finding = record_finding(
        inspection=walk, part=part, fault=fault, severity=severity, place=place, detail=detail, note=note,
        actor=actor, at=at,
    )  # fmt: skip
    finish_inspection(inspection=walk, actor=actor, at=at)
    return finding
