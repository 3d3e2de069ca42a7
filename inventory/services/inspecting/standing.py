"""Standing findings: carried over into a walk, added at the bench, closed when fixed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from core.acts import service
from core.models import User
from inventory.models import Closed, Finding, Inspection, Instrument, PartLook, Purpose
from inventory.selectors.inspecting import missing_parts
from inventory.services.event_log import log_event
from inventory.services.inspecting.counting import put_back
from inventory.services.inspecting.drafts import draft_of, new_draft, record_finding, start_inspection, write_draft
from inventory.services.inspecting.finishing import finish_inspection
from inventory.services.state import lock_instrument, refresh_state


@service
def carry_over_inspection(
    *,
    instrument: Instrument,
    purpose: str,
    actor: User,
    at: datetime,
    finish: bool = False,
    compared_with: Inspection | None = None,
) -> Inspection:
    """Start a walk filled in from what is known: every part is fine except those with standing findings.

    For hand-out, where the last inspection holds unless somebody notices a difference.
    """
    row = lock_instrument(instrument)
    draft = draft_of(row, purpose=purpose)
    if draft is None or not (draft.findings.exists() or draft.looks.exists()):
        draft = draft or new_draft(
            instrument=row, purpose=purpose, actor=actor, started_at=at, compared_with=compared_with, is_safe=True
        )
        standing = list(Finding.objects.filter(instrument=row).standing())
        _copy_findings(standing, walk=draft, found_at=at)
        faulty = {old.part for old in standing}
        PartLook.objects.bulk_create(
            PartLook(inspection=draft, part=stop.code, looked_at=at) for stop in row.parts if stop.code not in faulty
        )
        if draft.is_safe is None:
            write_draft(draft, is_safe=True)
    return finish_inspection(inspection=draft, actor=actor, at=at) if finish else draft


def _copy_findings(findings: Iterable[Finding], *, walk: Inspection, found_at: datetime | None = None) -> None:
    """Copy standing findings into this walk; by default they keep the moment they were found."""
    Finding.objects.bulk_create(
        [
            Finding(
                inspection=walk,
                instrument_id=old.instrument_id,
                part=old.part,
                place=old.place,
                fault=old.fault,
                severity=old.severity,
                detail=old.detail,
                note=old.note,
                found_at=found_at or old.found_at,
            )
            for old in findings
        ],
        ignore_conflicts=True,
    )


@service
def close_findings(
    *, instrument: Instrument, finding_ids: list[int], because: str, reference: str, actor: User, at: datetime
) -> int:
    """Close standing findings that a repair has fixed (or that were entered by mistake)."""
    row = lock_instrument(instrument)
    standing = Finding.objects.filter(instrument=row, pk__in=finding_ids, closed_at=None)
    if because == Closed.REPAIRED and (back := missing_parts(standing)):
        put_back(instrument=row, parts=back)
    closed = standing.update(closed_at=at, closed_because=because, closed_reference=reference)
    if closed:
        log_event(
            instrument=row,
            act="findings_closed",
            after={"findings": sorted(finding_ids), "because": because, "reference": reference},
        )
        refresh_state(instrument=row, actor=actor, at=at)
    return closed


@service
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
    walk = start_inspection(instrument=instrument, purpose=Purpose.BENCH, actor=actor, at=at, is_safe=True)
    standing = Finding.objects.filter(instrument=walk.instrument, part=part).standing()
    _copy_findings([old for old in standing if (old.place, old.fault) != (place, fault)], walk=walk)
    finding = record_finding(
        inspection=walk, part=part, fault=fault, severity=severity, place=place, detail=detail, note=note,
        actor=actor, at=at,
    )  # fmt: skip
    finish_inspection(inspection=walk, actor=actor, at=at)
    return finding
