"""From a file to judged rows, in short transactions, so that others go on working and a closed browser loses nothing."""

from __future__ import annotations

import hashlib
import tempfile
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import PurePath

from django.core.files import File
from django.db import transaction
from django.db.models.fields.json import KT

from core.events import record_event
from core.models import User
from core.sheets import SheetRefusedError, SheetRow, read_sheet
from inventory.exceptions import ImportRefusedError
from inventory.models import ColumnMemory, ImportBatch, ImportRow, School
from inventory.rules.intake.fields import MARK_COLUMN, is_heading
from inventory.rules.intake.judge import CHUNK, RowJudgement, RowState, in_chunks, judge_rows
from inventory.rules.intake.plain import plain_cells
from inventory.rules.intake.values import IntakeValues
from inventory.selectors.importing import (
    SAMPLE,
    confirmed_columns,
    find_kind_code,
    guessed_columns,
    import_schools,
    kind_words,
    known_fleet,
    longest_texts,
    places_of,
)
from inventory.services.importing.staged_rows import rows_in, write_rows

STATES = {
    RowState.NEW: ImportRow.State.NEW,
    RowState.ALREADY_HERE: ImportRow.State.KNOWN,
    RowState.PROBLEM: ImportRow.State.PROBLEM,
}
SUMS = {ImportRow.State.NEW: "rows_new", ImportRow.State.KNOWN: "rows_known", ImportRow.State.PROBLEM: "rows_problem"}
READ = (ImportBatch.State.READING, ImportBatch.State.JUDGED)
OPEN = (ImportBatch.State.RECEIVED, *READ)
LONGEST_MARK = 36  # our own are shorter
LONGEST_REASON = 400
LONGEST_HEADING = 120


@dataclass(frozen=True, slots=True)
class Begun:
    """``is_new`` is False when the same file was waiting already; ``other_sheets`` were not read."""

    batch: ImportBatch
    is_new: bool
    sheet: str = ""
    other_sheets: tuple[str, ...] = ()


def begin_import(
    *,
    school: School,
    data: bytes,
    filename: str,
    actor: User | None,
    at: datetime,
    worksheet: str = "",
    read_at_once: int | None = None,
) -> Begun:
    """Read the file and keep its rows for judging. Raises ImportRefusedError and keeps nothing.

    The same file sent again while the first still waits leads to the first. A workbook of more than ``read_at_once``
    bytes is looked into and kept as it is, for ``read_list``; None reads any at once.
    """
    if not import_schools(actor).filter(pk=school.pk).exists():
        raise ImportRefusedError(f"You may not import for {school}.")
    digest = hashlib.sha256(data + worksheet.encode()).hexdigest()
    waiting = ImportBatch.objects.filter(school=school, actor=actor, sha256=digest, state__in=OPEN).first()
    if waiting:
        return Begun(waiting, is_new=False)
    name = PurePath(filename.replace("\\", "/")).name[:200] or "list"
    batch = ImportBatch(
        school=school,
        actor=actor,
        filename=name,
        sha256=digest,
        begun_at=at,
        may_cross_schools=import_schools(actor).count() > 1,
    )
    with tempfile.TemporaryFile() as kept:
        try:
            sheet = read_sheet(data=data, filename=name, worksheet=worksheet, is_heading=is_heading)
            if sheet.delimiter or read_at_once is None or len(data) <= read_at_once:
                batch.rows_total = write_rows(rows=sheet.rows, out=kept)
            else:
                batch.state, batch.worksheet, batch.lines_total = batch.State.RECEIVED, sheet.name, sheet.last_line
                kept.write(data)
        except SheetRefusedError as refusal:
            raise ImportRefusedError(str(refusal)) from refusal
        batch.header = list(sheet.header)
        kept.seek(0)
        batch.file = batch.file.storage.save(rows_file(batch), File(kept))
    with transaction.atomic():
        batch.save(force_insert=True)
        _tell(batch, "import_begun", actor=actor, at=at, rows=batch.rows_total or None)
    return Begun(batch, is_new=True, sheet=sheet.name, other_sheets=sheet.other_names)


def rows_file(batch: ImportBatch) -> str:
    """A fresh name for the file of a list, that nobody guesses."""
    return batch.file.field.generate_filename(batch, f"{uuid.uuid4().hex}.jsonl")


def sample_rows(batch: ImportBatch) -> list[SheetRow]:
    """The first rows of the file, for guessing and for examples."""
    with batch.file.open("rb") as kept:
        return list(rows_in(kept, stop=SAMPLE))


def choose_columns(
    *, batch: ImportBatch, choices: Mapping[int, str], actor: User | None, at: datetime, remember: bool = True
) -> None:
    """Say what each column holds ("" leaves it out), remember it for the school, and begin to judge afresh."""
    guess = guessed_columns(school=batch.school, header=batch.header, sample=sample_rows(batch))
    try:
        mapping = guess.corrected(choices)
    except ValueError as refusal:
        raise ImportRefusedError(str(refusal)) from refusal
    if mapping.gaps():
        raise ImportRefusedError(" ".join(mapping.gaps()))
    with transaction.atomic():
        columns = {str(column.index): column.field.value if column.field else "" for column in mapping.columns}
        _start_judging(batch, mapping=columns)
        if remember:
            ColumnMemory.objects.bulk_create(
                [
                    ColumnMemory(school=batch.school, heading=heading, field=field)
                    for heading, field in mapping.to_remember().items()
                    if len(heading) <= LONGEST_HEADING
                ],
                update_conflicts=True,
                unique_fields=["school", "heading"],
                update_fields=["field"],
            )
        _tell(batch, "import_columns_chosen", actor=actor, at=at)


def judge_again(*, batch: ImportBatch, actor: User | None, at: datetime) -> None:
    """Judge every row afresh by what the register holds now."""
    if not batch.mapping:
        raise ImportRefusedError("Say first what the columns hold.")
    with transaction.atomic():
        _start_judging(batch, mapping=batch.mapping)
        _tell(batch, "import_judged_again", actor=actor, at=at)


def _start_judging(batch: ImportBatch, *, mapping: Mapping[str, str]) -> None:
    started = ImportBatch.objects.filter(pk=batch.pk, state__in=READ).update(
        mapping=dict(mapping),
        state=ImportBatch.State.READING,
        rows_judged=0,
        rows_new=0,
        rows_known=0,
        rows_problem=0,
        rows_ready=0,
    )
    if not started:
        raise ImportRefusedError("This list is not open any more. Send it again.")
    ImportRow.objects.filter(batch=batch.pk).delete()


def judge_more(*, batch: ImportBatch, today: date, most: int | None = None) -> ImportBatch:
    """Judge the next rows, at most ``most``, and return how the batch stands.

    Each chunk is stored in a transaction of its own, so whoever goes on later begins where this stopped; two at once
    do not judge a chunk twice.
    """
    batch = ImportBatch.objects.select_related("school", "actor").get(pk=batch.pk)
    if batch.state != ImportBatch.State.READING or not batch.mapping:
        return batch
    schools = list(import_schools(batch.actor))
    rows: list[SheetRow] = []
    stop = None if most is None else batch.rows_judged + most
    with batch.file.open("rb") as kept:
        judgements = judge_rows(
            rows=short_marks(rows_in(kept, start=batch.rows_judged, stop=stop), header=batch.header, keep=rows),
            mapping=confirmed_columns(batch),
            known=known_fleet(schools),
            find_kind=find_kind_code,
            kind_words=kind_words(),
            places=places_of(schools, own=batch.school),
            today=today,
            longest=longest_texts(),
            earlier=_earlier(batch),
        )
        for chunk in in_chunks(judgements, size=CHUNK):
            if not _store(batch, chunk, rows):
                break
            rows.clear()
    return ImportBatch.objects.select_related("school", "actor").get(pk=batch.pk)


def short_marks(
    rows: Iterator[SheetRow], *, header: list[str], keep: list[SheetRow] | None = None
) -> Iterator[SheetRow]:
    """Pass the rows on, adding them to ``keep``; a mark that is none of ours is cut to what a fingerprint holds."""
    index = header.index(MARK_COLUMN) if MARK_COLUMN in header else None
    for row in rows:
        passed = row
        if index is not None and index < len(row.cells) and len(str(row.cells[index])) > LONGEST_MARK:
            cells = (*row.cells[:index], str(row.cells[index])[:LONGEST_MARK], *row.cells[index + 1 :])
            passed = replace(row, cells=cells)
        if keep is not None:
            keep.append(passed)
        yield passed


def _earlier(batch: ImportBatch) -> Iterator[RowJudgement]:
    told = {name: KT(f"values__{name}") for name in ("asset_number", "maker", "serial")}
    stored = ImportRow.objects.filter(batch=batch).order_by("number").annotate(**told)
    for number, state, fingerprint, *texts in stored.values_list("number", "state", "fingerprint", *told).iterator():
        asset_number, maker, serial = (text or "" for text in texts)
        values = IntakeValues(asset_number=asset_number, maker=maker, serial=serial)
        yield RowJudgement(number, RowState.PROBLEM if state == "problem" else RowState.NEW, values, fingerprint)


@transaction.atomic
def _store(batch: ImportBatch, chunk: tuple[RowJudgement, ...], rows: list[SheetRow]) -> bool:
    """Keep a chunk's answers, unless somebody else has judged it or the columns have changed."""
    now = ImportBatch.objects.select_for_update().get(pk=batch.pk)
    if (now.rows_judged, now.state, now.mapping) != (batch.rows_judged, batch.state, batch.mapping):
        return False
    cells = {row.number: plain_cells(row) for row in rows}
    ImportRow.objects.bulk_create(_row(batch, judgement, cells[judgement.number]) for judgement in chunk)
    for state, column in SUMS.items():
        count = sum(1 for judgement in chunk if STATES[judgement.state] == state)
        setattr(now, column, getattr(now, column) + count)
    now.rows_judged += len(chunk)
    if now.rows_judged >= now.rows_total:
        now.state = ImportBatch.State.JUDGED
    now.save(update_fields=["rows_judged", "state", *SUMS.values()])
    batch.rows_judged, batch.state = now.rows_judged, now.state
    return True


def _row(batch: ImportBatch, judgement: RowJudgement, cells: list[object]) -> ImportRow:
    reason = judgement.reason
    return ImportRow(
        batch=batch,
        number=judgement.number,
        state=STATES[judgement.state],
        column=judgement.column[:LONGEST_HEADING],
        reason=reason if len(reason) <= LONGEST_REASON else f"{reason[: LONGEST_REASON - 1]}…",
        cells=cells,
        values=judgement.values.as_record(),
        remarks={
            "notes": list(judgement.notes),
            "problems": [[problem.column, problem.reason] for problem in judgement.problems],
            "match": judgement.match,
        },
        fingerprint=judgement.fingerprint,
    )


def drop_import(*, batch: ImportBatch, actor: User | None, at: datetime) -> None:
    """Throw a list away that was not published; nothing of it stays but that it was there."""
    with transaction.atomic():
        dropped = ImportBatch.objects.filter(pk=batch.pk, state__in=OPEN).update(
            state=ImportBatch.State.DROPPED, header=[], mapping={}
        )
        if not dropped:
            raise ImportRefusedError("This list was published or thrown away already.")
        ImportRow.objects.filter(batch=batch.pk).delete()
        _tell(batch, "import_dropped", actor=actor, at=at)
        transaction.on_commit(lambda: forget_file(batch=batch))


def forget_file(*, batch: ImportBatch) -> None:
    """Delete the rows as they were sent: they may name people."""
    if batch.file:
        batch.file.delete(save=False)
    ImportBatch.objects.filter(pk=batch.pk).update(file="")


def _tell(batch: ImportBatch, act: str, *, actor: User | None, at: datetime, **after: object) -> None:
    record_event(actor=actor, act=act, subject=batch, at=at, tenant=batch.school_id, after=after)
