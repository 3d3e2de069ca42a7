"""The walk as a draft. Every tap is one small act, saved at once, so a lost connection loses nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any, cast
from uuid import UUID

from django.utils.translation import gettext

from core.acts import current_act, lock_row, service
from core.models import User
from inventory.catalog.load import catalog
from inventory.catalog.schema import MISSING_PART, Part, RoleTag, has_tag
from inventory.exceptions import InspectionClosedError, RefusedError
from inventory.models import Finding, Inspection, Instrument, PartLook, Severity, Unsafe
from inventory.selectors.inspecting import known_before
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument


@service
def start_inspection(
    *,
    instrument: Instrument,
    purpose: str,
    actor: User,
    at: datetime,
    compared_with: Inspection | None = None,
    is_safe: bool | None = None,
) -> Inspection:
    """Start a walk, or continue the open one of the same purpose."""
    row = lock_instrument(instrument)
    return draft_of(row, purpose=purpose) or new_draft(
        instrument=row, purpose=purpose, actor=actor, started_at=at, compared_with=compared_with, is_safe=is_safe
    )


@service(once="key")
def begin_inspection(
    *,
    instrument: Instrument,
    purpose: str,
    key: UUID,
    actor: User,
    at: datetime,
    compared_with: Inspection | None = None,
) -> Inspection:
    """Start the walk that began on a phone without a signal, or return the one that it started; ``key`` is the phone's."""
    return start_inspection(instrument=instrument, purpose=purpose, actor=actor, at=at, compared_with=compared_with)


def new_draft(**columns: Any) -> Inspection:
    draft = Inspection.objects.create(**columns)
    _hold(draft)
    return draft


def draft_of(instrument: Instrument, *, purpose: str) -> Inspection | None:
    """The open walk of an instrument that the act has locked, so that nobody else changes its walks."""
    found = Inspection.objects.drafts().filter(instrument=instrument, purpose=purpose).first()
    if found is not None:
        found.instrument = instrument
        _hold(found)
    return found


def _hold(draft: Inspection) -> None:
    current_act().rows[Inspection, draft.pk] = draft


def open_draft(inspection: Inspection) -> Inspection:
    """The draft as it is now, its instrument locked; refused if somebody has finished it meanwhile."""
    instrument = lock_instrument(inspection.instrument_id)
    draft = cast("Inspection", current_act().rows.get((Inspection, inspection.pk)) or lock_row(inspection))
    draft.instrument = instrument
    _hold(draft)
    if not draft.is_draft:
        raise InspectionClosedError
    return draft


def write_draft(draft: Inspection, **columns: Any) -> None:
    """Write these columns, and no other, of a draft that this act holds."""
    Inspection.objects.filter(pk=draft.pk).update(**columns)
    for name, value in columns.items():
        setattr(draft, name, value)


def part_of(*, instrument: Instrument, code: str) -> Part:
    for part in instrument.parts:
        if part.code == code:
            return part
    raise RefusedError(
        gettext("This %(kind)s has no part called %(part)s.") % {"kind": instrument.kind.name.lower(), "part": code}
    )


@service(once="key")
def take_tap(*, inspection: Inspection, key: UUID | None, actor: User, at: datetime, act: Callable[[], object]) -> None:
    """Do what was tapped in one act, unless this tap was applied before.

    A phone that lost the answer sends the tap again. A refused tap leaves no key behind and may be sent again.
    """
    act()


@service
def look_at_part(*, inspection: Inspection, part: str, actor: User, at: datetime) -> None:
    """Record that the part is fine; findings as entered in this walk are removed."""
    draft = open_draft(inspection)
    part_of(instrument=draft.instrument, code=part)
    draft.findings.filter(part=part).delete()
    look = PartLook(inspection=draft, part=part, looked_at=at)
    PartLook.objects.bulk_create(
        [look], update_conflicts=True, unique_fields=["inspection", "part"], update_fields=["looked_at"]
    )


@service
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


@service
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
    found = record_findings(
        inspection=inspection, part=part, fault=fault, severity=severity, places=[place], detail=detail, note=note,
        actor=actor, at=at,
    )  # fmt: skip
    return found[0]


@service
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
    note: str | None = "",
) -> list[Finding]:
    """Enter one fault at several places of a part, all or none of them; no place means the part as a whole.

    ``note`` None: each keeps the note it had before.
    Of what sounds place by place, such as a drum of a set, one has to be named: a torn head leaves the others to play.
    """
    draft = open_draft(inspection)
    stop = part_of(instrument=draft.instrument, code=part)
    if not places and stop.places and has_tag(stop, RoleTag.VOICES, roles=catalog().roles):
        raise RefusedError(gettext("Say which: %(places)s.") % {"places": ", ".join(spot.name for spot in stop.places)})
    comes_off = (MISSING_PART,) if not has_tag(stop, RoleTag.STAYS_ON, roles=catalog().roles) else ()
    if fault not in (*catalog().faults_at(stop), *comes_off):  # what comes off by force is offered as missing nowhere
        raise RefusedError(gettext("%(fault)s does not fit the %(part)s.") % {"fault": fault, "part": stop.name})
    if unknown := set(places) - {"", *(spot.code for spot in stop.places)}:
        raise RefusedError(
            gettext("The %(part)s has no place called %(places)s.")
            % {"part": stop.name, "places": ", ".join(sorted(unknown))}
        )
    if severity not in list(Severity):
        raise RefusedError(gettext("Choose light, moderate or severe."))
    notes: dict[str, str] = {}
    if note is None:
        notes = dict(known_before(draft).filter(part=part, fault=fault).values_list("place", "note"))
    found = [
        Finding(inspection=draft, instrument=draft.instrument, part=part, place=place, fault=fault, severity=severity,
                detail=detail, note=(notes.get(place, "") if note is None else note)[:10_000], found_at=at)
        for place in dict.fromkeys(places or [""])
    ]  # fmt: skip
    PartLook.objects.filter(inspection=draft, part=part).delete()
    return upsert_findings(found)


def upsert_findings(findings: list[Finding]) -> list[Finding]:
    """Write findings of a draft; the same fault at the same place gets the new severity and note."""
    return Finding.objects.bulk_create(
        findings,
        update_conflicts=True,
        unique_fields=["inspection", "part", "place", "fault"],
        update_fields=["severity", "detail", "note", "found_at"],
    )


@service
def remove_finding(*, finding: Finding, actor: User) -> None:
    """Remove a finding that was tapped by mistake, while the walk is still a draft."""
    draft = open_draft(finding.inspection)
    draft.findings.filter(pk=finding.pk).delete()


@service
def answer_safety(
    *, inspection: Inspection, is_safe: bool, actor: User, at: datetime, unsafe: str = Unsafe.OTHER, because: str = ""
) -> None:
    """Safe to handle? After 'no' nothing more is asked; ``unsafe`` is the code of the reason."""
    code, reason = ("", "") if is_safe else (unsafe, because)
    write_draft(open_draft(inspection), is_safe=is_safe, unsafe_code=code, unsafe_because=reason)


@service
def drop_inspection(*, inspection: Inspection, actor: User, at: datetime) -> None:
    """Discard a draft; earlier findings stand."""
    draft = open_draft(inspection)
    write_draft(draft, dropped_at=at)
    log_event(instrument=draft.instrument, act="inspection_dropped", subject=draft, after={"purpose": draft.purpose})
