"""What people wrote into a list is kept no longer than somebody needs it: rows to put right may name donors and students."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from core.events import record_event
from core.models import User
from inventory.exceptions import ImportRefusedError
from inventory.models import ImportBatch, ImportRow
from inventory.services.importing.staging import OPEN, drop_import

KEPT_FOR = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Forgotten:
    """How many lists were thrown away, and how many rows of written lists were emptied out."""

    lists: int
    rows: int


def forget_old_lists(*, at: datetime) -> Forgotten:
    """Throw away lists that nobody confirmed for so long, and the rows to put right of lists written so long ago."""
    waiting = ImportBatch.objects.filter(state__in=OPEN, begun_at__lt=at - KEPT_FOR)
    written = ImportBatch.objects.filter(state=ImportBatch.State.PUBLISHED, published_at__lt=at - KEPT_FOR)
    lists = list(waiting)
    for batch in lists:
        drop_import(batch=batch, actor=None, at=at)
    rows = [
        forget_problem_rows(batch=batch, actor=None, at=at)
        for batch in written.filter(rows__state=ImportRow.State.PROBLEM).distinct()
    ]
    return Forgotten(lists=len(lists), rows=sum(rows))


@transaction.atomic
def forget_problem_rows(*, batch: ImportBatch, actor: User | None, at: datetime) -> int:
    """Delete the rows to put right of a list that was written; return how many. The list says only that it was there."""
    if not ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.PUBLISHED).exists():
        raise ImportRefusedError("This list is not written yet. Throw it away instead.")
    count, _ = ImportRow.objects.filter(batch=batch.pk, state=ImportRow.State.PROBLEM).delete()
    if count:
        record_event(
            actor=actor,
            act="import_rows_forgotten",
            subject=batch,
            at=at,
            tenant=batch.school_id,
            after={"rows": count},
        )
    return count
