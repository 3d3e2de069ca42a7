"""Standing findings: carried over into a walk, added at the bench, closed when fixed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from core.acts import service
from core.models import User
from inventory.models import Closed, Finding, Inspection, Instrument, PartLook, Purpose
from inventory.selectors.inspecting import missing_parts
from inventory.services.event_log import log_event
from inventory.services.inspecting.counting import put_back, take_out
from inventory.services.inspecting.drafts import draft_of, new_draft, record_findings, start_inspection, write_draft
from inventory.services.inspecting.finishing import finish_inspection
from inventory.services.state import lock_instrument, refresh_state

THERE_AGAIN = {Closed.REPAIRED, Closed.PUT_BACK, Closed.WITHDRAWN}


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
    """Close standing findings that a repair has fixed, whose part is back on, or that were entered by mistake."""
    row = lock_instrument(instrument)
    standing = Finding.objects.filter(instrument=row, pk__in=finding_ids, closed_at=None)
    if because in THERE_AGAIN and (back := missing_parts(standing)):
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
def reopen_findings(*, instrument: Instrument, reference: str, actor: User, at: datetime) -> None:
    """Let findings stand again that an act had closed which was taken back; what was put back is missing again."""
    row = lock_instrument(instrument)
    closed = Finding.objects.filter(instrument=row, closed_reference=reference, closed_because=Closed.REPAIRED)
    keys = sorted(closed.values_list("pk", flat=True))
    if not keys:
        return
    take_out(instrument=row, parts=missing_parts(closed))
    Finding.objects.filter(pk__in=keys).update(closed_at=None, closed_because="", closed_reference="")
    log_event(instrument=row, act="findings_reopened", after={"findings": keys, "reference": reference})
    refresh_state(instrument=row, actor=actor, at=at)


@service
def add_bench_finding(*, instrument: Instrument, place: str = "", actor: User, at: datetime, **finding: str) -> Finding:
    """Something new seen on the bench: part, fault and severity, with detail and note where there are any."""
    new = {**finding, "places": [place]}
    return add_bench_findings(instrument=instrument, findings=[new], actor=actor, at=at)[0]


@service
def add_bench_findings(
    *,
    instrument: Instrument,
    findings: Sequence[Mapping[str, Any]],
    actor: User,
    at: datetime,
    purpose: Purpose = Purpose.BENCH,
) -> list[Finding]:
    """A small finished inspection of the parts found at fault, others untouched.

    Each of ``findings`` is what ``record_findings`` takes: one fault at several places of a part.
    """
    walk = start_inspection(instrument=instrument, purpose=purpose, actor=actor, at=at, is_safe=True)
    if walk.is_safe is None:  # one begun before that nobody has finished
        write_draft(walk, is_safe=True)
    new = {(one["part"], place, one["fault"]) for one in findings for place in one["places"]}
    standing = Finding.objects.filter(instrument=walk.instrument, part__in={part for part, _, _ in new}).standing()
    _copy_findings([old for old in standing if (old.part, old.place, old.fault) not in new], walk=walk)
    found = [row for one in findings for row in record_findings(inspection=walk, actor=actor, at=at, **one)]
    finish_inspection(inspection=walk, actor=actor, at=at)
    return found
