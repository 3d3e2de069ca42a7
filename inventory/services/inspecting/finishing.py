"""Finish a walk: its findings become the state of the instrument."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from datetime import datetime

from django.utils.translation import gettext

from core.acts import service
from core.models import User
from inventory.catalog.load import catalog
from inventory.catalog.load.language import stored_language
from inventory.exceptions import RefusedError
from inventory.models import Closed, Finding, Inspection, Purpose, Severity, Unsafe
from inventory.selectors.inspecting import without_missing
from inventory.services.event_log import log_event
from inventory.services.following import return_inspected
from inventory.services.inspecting.counting import store_counts
from inventory.services.inspecting.drafts import open_draft, upsert_findings, write_draft
from inventory.services.state import refresh_state, state_now, write


@service
def finish_inspection(*, inspection: Inspection, actor: User, at: datetime, note: str = "") -> Inspection:
    """Close the walk; its findings replace what was known of the parts that were checked.

    A part that nobody checked keeps its standing findings. Verdict and readiness follow in the same transaction.
    """
    draft = open_draft(inspection)
    instrument = draft.instrument
    if draft.is_safe is None:
        raise RefusedError(gettext("First answer whether it is safe to handle."))
    found = list(draft.findings.all())
    looked = set(draft.looks.values_list("part", flat=True)) | {finding.part for finding in found}
    if not looked and draft.is_safe:
        raise RefusedError(gettext("No part has been checked yet."))
    if draft.is_safe is False:
        _note_unsafe(draft, at)
        found = list(draft.findings.all())
        looked |= {finding.part for finding in found}
    _close_earlier(draft, found, looked=looked, at=at)
    if draft.accessory_counts:
        rows = list(instrument.accessories.all())
        store_counts(rows, counts=without_missing(draft.accessory_counts, accessories=rows, findings=found))
    write_draft(draft, finished_at=at, note=note or draft.note)
    is_awaited = draft.purpose == Purpose.RETURN and instrument.is_return_inspection_due
    if is_awaited:
        write(instrument, is_return_inspection_due=False)
    refresh_state(instrument=instrument, actor=actor, at=at)
    write_draft(draft, verdict=state_now(instrument).verdict)
    log_event(
        instrument=instrument,
        act="inspected",
        subject=draft,
        after={
            "purpose": draft.purpose,
            "findings": len(found),
            "parts": len(looked),
            "verdict": draft.verdict,
        },
    )
    if is_awaited:
        return_inspected(inspection=draft, actor=actor, at=at)
    return draft


def _close_earlier(draft: Inspection, found: Collection[Finding], *, looked: Collection[str], at: datetime) -> None:
    """Close the standing findings of the parts that were checked: seen again in this walk, or not."""
    again = {(finding.part, finding.place, finding.fault) for finding in found}
    keys: dict[Closed, list[int]] = defaultdict(list)
    for old in Finding.objects.filter(instrument=draft.instrument, part__in=looked).standing():
        is_seen = (old.part, old.place, old.fault) in again
        keys[Closed.SEEN_AGAIN if is_seen else Closed.NOT_SEEN].append(old.pk)
    for because, closed in keys.items():
        Finding.objects.filter(pk__in=closed).update(
            closed_at=at, closed_because=because, closed_reference=f"inspection:{draft.pk}"
        )


def _note_unsafe(draft: Inspection, at: datetime) -> None:
    """An answer 'not safe' becomes a finding, so that it stops the instrument like any other fault."""
    parts = draft.instrument.parts
    if not parts:
        return  # the catalog has lost its kind: it stays in anyway
    stop = next((part for part in parts if part.role == "case"), parts[0])
    fits = catalog().faults_at(stop)
    wanted = "odor_mold" if draft.unsafe_code == Unsafe.MOLD else "unsafe_to_handle"
    fault = next((code for code in (wanted, "unsafe_to_handle", "odor_mold") if code in fits), fits[0])
    with stored_language():
        note = draft.unsafe_because or gettext("Not safe to handle.")
    upsert_findings([
        Finding(inspection=draft, instrument=draft.instrument, part=stop.code, fault=fault, severity=Severity.SEVERE,
                note=note, found_at=at)
    ])  # fmt: skip
