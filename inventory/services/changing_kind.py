"""An instrument that was entered as the wrong kind is corrected in place."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext

from core.acts import service
from core.models import User
from core.revisions import kept_of
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import Accessory, Closed, Finding, Inspection, Instrument
from inventory.services.checking import save_columns
from inventory.services.event_log import log_event
from inventory.services.following import instruments_changed
from inventory.services.inspecting import close_findings
from inventory.services.registering import accessories_for, options_of
from inventory.services.state import lock_instrument, refresh_state, write


@service(once="nonce")
def correct_kind(
    *,
    instrument: Instrument,
    kind_code: str,
    actor: User,
    at: datetime,
    options: Mapping[str, str] | None = None,
    nonce: UUID | None = None,
) -> Instrument:
    """Say what kind it really is. Its number, history and papers stay.

    Findings on parts that the other kind does not have are closed and stay readable; where its parts differ, earlier
    inspections no longer say anything of it, and it waits for a new one. Refused during an inspection.
    """
    row = lock_instrument(instrument)
    if kind_code not in catalog().kinds:
        raise RefusedError(gettext("There is no kind called %(kind)s.") % {"kind": kind_code})
    if kind_code == row.kind_code:
        raise RefusedError(gettext("It is entered as that kind already. Nothing was changed."))
    if Inspection.objects.drafts().filter(instrument=row).exists():
        raise RefusedError(gettext("An inspection of it is open. Finish or discard that first."))
    before: dict[str, Any] = {"kind_code": row.kind_code, "options": row.options}
    was = {part.code for part in row.parts}
    new = options_of(kind_code=kind_code, given=options or {})
    changed = save_columns(row, check=lambda _row: None, kind_code=kind_code, options=new)
    log_event(instrument=row, act="corrected", **kept_of(Instrument).change(row, before, changed))
    is_other = {part.code for part in row.parts} != was
    _sort_findings(row, was=before["kind_code"], is_other_walk=is_other, actor=actor, at=at)
    _sort_accessories(row)
    if not row.kind.between_players():
        write(row, is_hygiene_due=False, is_full_cleaning_due=False)
    instruments_changed([row.pk])
    refresh_state(instrument=row, actor=actor, at=at)
    return row


def _sort_findings(row: Instrument, *, was: str, is_other_walk: bool, actor: User, at: datetime) -> None:
    """Set aside what was seen as the other kind, and take up again what was once seen as this one."""
    walks, now = Inspection.objects.filter(instrument=row), row.kind
    if is_other_walk:
        walks.filter(under_kind="").update(under_kind=was)
    walks.filter(under_kind=row.kind_code).update(under_kind="")
    standing = Finding.objects.filter(instrument=row).standing()
    if left := [one.pk for one in standing if not now.has(one.part, one.place)]:
        close_findings(
            instrument=row, finding_ids=left, because=Closed.OTHER_KIND, reference=f"kind:{was}", actor=actor, at=at
        )
    aside = Finding.objects.filter(instrument=row, closed_because=Closed.OTHER_KIND)
    if again := [one.pk for one in aside if now.has(one.part, one.place)]:
        Finding.objects.filter(pk__in=again).update(closed_at=None, closed_because="", closed_reference="")
        log_event(instrument=row, act="findings_reopened", after={"findings": again, "reference": f"kind:{was}"})


def _sort_accessories(row: Instrument) -> None:
    """Expect what this kind comes with; what else was counted or has a tag of its own stays, and is not expected."""
    there = {one.code: one for one in row.accessories.all()}
    for spec in accessories_for(row):
        old = there.pop(spec.code, None)
        if old is None:
            spec.save(force_insert=True)
        else:
            save_columns(
                old, name=spec.name, expected=spec.expected, is_essential=spec.is_essential, position=spec.position
            )
    for place, old in enumerate(there.values(), start=len(row.kind.accessories)):
        if old.present or old.tags.exists():
            save_columns(old, expected=0, is_essential=False, position=place)
        else:
            Accessory.objects.filter(pk=old.pk).delete()
