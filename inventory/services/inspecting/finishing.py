"""A finished walk speaks for the instrument."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from core.models import User
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import Closed, Finding, Inspection, Severity
from inventory.services.event_log import log_event
from inventory.services.inspecting.counting import store_counts
from inventory.services.inspecting.drafts import open_draft
from inventory.services.state import refresh_state


@transaction.atomic
def finish_inspection(*, inspection: Inspection, actor: User, at: datetime, note: str = "") -> Inspection:
    """Close the walk and let it speak for the instrument.

    A part that was looked at (fine, or with findings) replaces what was known of it; a part that nobody looked at
    keeps its standing findings. Verdict and readiness follow in the same transaction.
    """
    draft = open_draft(inspection)
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
    store_counts(instrument=instrument, counts=draft.accessory_counts)
    Inspection.objects.filter(pk=draft.pk).update(finished_at=at, note=note or draft.note)
    state = refresh_state(instrument=instrument, actor=actor, at=at)
    Inspection.objects.filter(pk=draft.pk).update(verdict=state.verdict)
    log_event(
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
    if not parts:
        return  # the catalog has lost its kind: it stays in anyway
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
