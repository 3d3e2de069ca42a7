"""The rows of a large workbook, read while its page shows how far it is."""

from __future__ import annotations

import tempfile
import uuid
from collections.abc import Iterable, Iterator
from datetime import datetime

from django.core.files import File
from django.db import transaction

from core.models import User
from core.sheets import SheetRefusedError, SheetRow, read_sheet
from inventory.exceptions import ImportRefusedError
from inventory.models import ImportBatch
from inventory.rules.intake.fields import is_heading
from inventory.services.importing.staged_rows import write_rows
from inventory.services.importing.staging import drop_import, rows_file

TOLD_EVERY = 500  # rows


def read_list(*, batch: ImportBatch, actor: User | None, at: datetime) -> ImportBatch:
    """Read the rows of a list that was only received, and return how the batch stands.

    How many lines are read is told on the way, each time in a transaction of its own. Whoever begins last reads on;
    an earlier reader, whose page was closed or whose process ended, keeps nothing. Raises ImportRefusedError where
    the file turns out to be damaged further down: then the list is thrown away.
    """
    reader = uuid.uuid4().hex
    mine = ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.RECEIVED)
    if not mine.update(reader=reader, lines_read=0):
        return ImportBatch.objects.get(pk=batch.pk)
    mine = mine.filter(reader=reader)
    with batch.file.open("rb") as sent:
        data = sent.read()
    with tempfile.TemporaryFile() as kept:
        try:
            sheet = read_sheet(data=data, filename=batch.filename, worksheet=batch.worksheet, is_heading=is_heading)
            total = write_rows(rows=_telling(sheet.rows, reading=batch, reader=reader), out=kept)
        except SheetRefusedError as refusal:
            drop_import(batch=batch, actor=actor, at=at)
            raise ImportRefusedError(f"{refusal} The list was thrown away.") from refusal
        kept.seek(0)
        name = batch.file.storage.save(rows_file(batch), File(kept))
    with transaction.atomic():
        is_kept = mine.update(state=ImportBatch.State.READING, file=name, rows_total=total, reader="")
        useless = batch.file.name or name if is_kept else name
        transaction.on_commit(lambda: batch.file.storage.delete(useless))
    return ImportBatch.objects.get(pk=batch.pk)


def _telling(rows: Iterable[SheetRow], *, reading: ImportBatch, reader: str) -> Iterator[SheetRow]:
    """Pass the rows on and tell how far they are read; end where somebody else has begun to read."""
    for count, row in enumerate(rows, start=1):
        yield row
        if count % TOLD_EVERY == 0:
            told = ImportBatch.objects.filter(pk=reading.pk, state=ImportBatch.State.RECEIVED, reader=reader)
            if not told.update(lines_read=row.number):
                return
