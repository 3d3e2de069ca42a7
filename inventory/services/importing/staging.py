"""From a file to judged rows, in short transactions, so that others go on working and a closed browser loses nothing.

Between sending and publishing the rows stand in a file, one a line, as JSON. What people wrote is kept no longer than
somebody needs it: rows with problems may name donors and students.
"""

from __future__ import annotations

import hashlib
import json
import tempfile
import uuid
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, timedelta
from itertools import islice
from pathlib import PurePath
from typing import IO, Any, NamedTuple

from django.core.files import File
from django.db import transaction
from django.db.models.fields.json import KT
from django.utils.translation import gettext

from core.acts import service
from core.cells import as_json, from_json
from core.events import already, record_event
from core.models import User
from core.progress import report_progress
from core.sheets import SheetRefusedError, SheetRow, read_sheet
from inventory.exceptions import RefusedError
from inventory.models import ColumnMemory, ImportBatch, ImportRow, School
from inventory.rules.intake.headings import is_heading
from inventory.rules.intake.judge import RowJudgement, RowState
from inventory.rules.intake.mapping import ColumnMapping
from inventory.selectors.importing import (
    SAMPLE,
    answers_of,
    current_columns,
    guessed_columns,
    import_schools,
    judged_rows,
    mended,
    orders_shown,
)

STATES = {
    RowState.NEW: ImportRow.State.NEW,
    RowState.ALREADY_HERE: ImportRow.State.KNOWN,
    RowState.PROBLEM: ImportRow.State.PROBLEM,
    RowState.SKIPPED: ImportRow.State.SKIPPED,
}
SUMS = {state: f"rows_{kept}" for state, kept in STATES.items()}
READ = (ImportBatch.State.READING, ImportBatch.State.JUDGED)
OPEN = (ImportBatch.State.RECEIVED, *READ)
CHUNK = 500  # rows judged between two words about how far it is
LONGEST_REASON = 400
LONGEST_HEADING = 120
KEPT_FOR = timedelta(days=30)


class Begun(NamedTuple):
    """``is_new`` is False when the same file was waiting already; ``other_sheets`` were not read."""

    batch: ImportBatch
    is_new: bool
    sheet: str = ""
    other_sheets: tuple[str, ...] = ()


# Sending


def begin_import(
    *,
    school: School,
    data: bytes,
    filename: str,
    actor: User | None,
    at: datetime,
    worksheet: str = "",
    read_at_once: int | None = None,
    nonce: uuid.UUID | None = None,
) -> Begun:
    """Read the file and keep its rows for judging. Raises RefusedError and keeps nothing.

    The same file sent again while the first still waits leads to the first. A workbook of more than ``read_at_once``
    bytes is looked into and kept as it is, for ``read_list``; None reads any at once.
    """
    schools = set(import_schools(actor))
    if school not in schools:
        raise RefusedError(gettext("You may not import for %(school)s.") % {"school": school})
    digest = hashlib.sha256(data + worksheet.encode()).hexdigest()
    waiting = ImportBatch.objects.filter(school=school, actor=actor, sha256=digest, state__in=OPEN).first()
    if waiting:
        return Begun(waiting, is_new=False)
    name = PurePath(filename.replace("\\", "/")).name[:200] or "list"
    columns: dict[str, Any] = {"school": school, "actor": actor, "filename": name, "sha256": digest, "begun_at": at}
    with tempfile.TemporaryFile() as kept:
        sheet = read_sheet(data=data, filename=name, worksheet=worksheet, is_heading=is_heading)
        if sheet.delimiter or read_at_once is None or len(data) <= read_at_once:
            columns["rows_total"] = write_rows(rows=sheet.rows, out=kept)
        else:
            columns |= {"state": ImportBatch.State.RECEIVED, "worksheet": sheet.name, "lines_total": sheet.last_line}
            kept.write(data)
        columns |= {"header": list(sheet.header), "file": _keep_file(kept)}
    batch = _begin(columns | {"may_cross_schools": len(schools) > 1}, actor=actor, at=at, nonce=nonce)
    if batch.file.name != columns["file"]:  # the form was posted before
        batch.file.storage.delete(columns["file"])
        return Begun(batch, is_new=False)
    return Begun(batch, is_new=True, sheet=sheet.name, other_sheets=sheet.other_names)


@service(once="nonce")
def _begin(
    columns: Mapping[str, Any], *, actor: User | None, at: datetime, nonce: uuid.UUID | None = None
) -> ImportBatch:
    batch = ImportBatch.objects.create(**columns)
    log(batch=batch, act="import_begun", actor=actor, at=at, rows=batch.rows_total or None)
    return batch


def read_list(*, batch: ImportBatch, actor: User | None, at: datetime) -> ImportBatch:
    """Read the rows of a list that was only received, and return how the batch stands.

    Of two who read it, the first who is done keeps the rows. Raises RefusedError where the file turns out to be damaged
    further down: then the list is discarded.
    """
    if batch.state != ImportBatch.State.RECEIVED:
        return ImportBatch.objects.get(pk=batch.pk)
    try:
        with batch.file.open("rb") as sent:
            data = sent.read()
    except FileNotFoundError:
        batch = ImportBatch.objects.get(pk=batch.pk)
        if batch.state == ImportBatch.State.RECEIVED:
            raise
        return batch
    with tempfile.TemporaryFile() as kept:
        try:
            sheet = read_sheet(data=data, filename=batch.filename, worksheet=batch.worksheet, is_heading=is_heading)
            total = write_rows(rows=_counted(sheet.rows, total=batch.lines_total), out=kept)
        except SheetRefusedError as refusal:
            drop_import(batch=batch, actor=actor, at=at)
            raise RefusedError(gettext("%(reason)s The list was discarded.") % {"reason": refusal}) from refusal
        _keep_rows(batch=batch, name=_keep_file(kept), total=total)
    return ImportBatch.objects.get(pk=batch.pk)


@service
def _keep_rows(*, batch: ImportBatch, name: str, total: int) -> None:
    """Put the rows in the place of the file that was sent, unless somebody else has."""
    received = ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.RECEIVED)
    is_kept = received.update(state=ImportBatch.State.READING, file=name, rows_total=total)
    useless = (batch.file.name if is_kept else None) or name
    transaction.on_commit(lambda: batch.file.storage.delete(useless))


def _counted(rows: Iterable[SheetRow], *, total: int) -> Iterator[SheetRow]:
    for row in rows:
        yield row
        report_progress(row.number, total, phase=gettext("Lines read"))


def write_rows(*, rows: Iterable[SheetRow], out: IO[bytes]) -> int:
    """Write the rows and return how many there were."""
    count = 0
    for count, row in enumerate(rows, start=1):  # noqa: B007  # the last is the answer
        line = json.dumps([row.number, as_json(row.cells)], ensure_ascii=False, separators=(",", ":"))
        out.write(line.encode("utf-8", errors="replace") + b"\n")
    return count


def rows_in(source: Iterable[bytes], *, start: int = 0, stop: int | None = None) -> Iterator[SheetRow]:
    """Read rows back, from the place of the first wanted one to before the last."""
    for number, cells in map(json.loads, islice(source, start, stop)):
        yield SheetRow(number, from_json(cells))


def _keep_file(kept: IO[bytes]) -> str:
    """Store the file under a name that nobody guesses, and return it."""
    kept.seek(0)
    field = ImportBatch._meta.get_field("file")
    return field.storage.save(field.generate_filename(ImportBatch(), f"{uuid.uuid4().hex}.jsonl"), File(kept))


def all_rows(batch: ImportBatch) -> Iterator[SheetRow]:
    """Every row of the file, as it was sent."""
    with batch.file.open("rb") as kept:
        yield from rows_in(kept)


def sample_rows(batch: ImportBatch) -> list[SheetRow]:
    """The first rows of the file, for guessing and for examples."""
    with batch.file.open("rb") as kept:
        return list(rows_in(kept, stop=SAMPLE))


# Columns


def refuse_without_kind(mapping: ColumnMapping) -> None:
    if not mapping.names_kind:
        raise RefusedError(gettext("No column says what kind of instrument each row is. Choose the column that does."))


@service
def choose_columns(
    *, batch: ImportBatch, choices: Mapping[int, str], actor: User | None, at: datetime, remember: bool = True
) -> None:
    """Say what each column holds ("" leaves it out), remember it for the school, and begin to judge afresh."""
    guess = guessed_columns(school=batch.school, header=batch.header, sample=sample_rows(batch))
    try:
        mapping = guess.corrected(choices)
    except ValueError as refusal:
        raise RefusedError(str(refusal)) from refusal
    refuse_without_kind(mapping)
    asked = {"orders": orders_shown(mapping, rows=all_rows(batch))}
    start_judging(batch=batch, mapping={str(index): field for index, field in mapping.choices.items()}, asked=asked)
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
    log(batch=batch, act="import_columns_chosen", actor=actor, at=at)


# Judging


@service
def judge_again(*, batch: ImportBatch, actor: User | None, at: datetime) -> None:
    """Judge every row afresh by what the register holds now."""
    if not batch.mapping:
        raise RefusedError(gettext("Choose the columns first."))
    start_judging(batch=batch, mapping=batch.mapping, asked=batch.asked | {"kinds": {}})
    log(batch=batch, act="import_judged_again", actor=actor, at=at)


def start_judging(*, batch: ImportBatch, mapping: Mapping[str, str], asked: Mapping[str, Any], **columns: Any) -> None:
    """Begin to judge afresh; ``columns`` are those of the batch that change besides."""
    nothing = dict.fromkeys(["rows_judged", *SUMS.values()], 0)
    started = ImportBatch.objects.filter(pk=batch.pk, state__in=READ).update(
        mapping=dict(mapping), asked=dict(asked), state=ImportBatch.State.READING, **nothing, **columns
    )
    if not started:
        raise RefusedError(gettext("This list is no longer open. Send it again."))
    ImportRow.objects.filter(batch=batch.pk).delete()


def judge_more(*, batch: ImportBatch, today: date, most: int | None = None) -> ImportBatch:
    """Judge the next rows, at most ``most``, and return how the batch stands.

    Each chunk is stored in a transaction of its own, so whoever goes on later begins where this stopped; two at once
    do not judge a chunk twice.
    """
    batch = ImportBatch.objects.select_related("school", "actor").get(pk=batch.pk)
    if batch.state != ImportBatch.State.READING or not batch.mapping:
        return batch
    stop = None if most is None else batch.rows_judged + most
    with batch.file.open("rb") as source:
        judgements = judged_rows(
            mended(rows_in(source, start=batch.rows_judged, stop=stop), cells=batch.answers.get("rows", {})),
            mapping=current_columns(batch),
            school=batch.school,
            actor=batch.actor,
            today=today,
            earlier=_earlier(batch),
            answers=answers_of(batch),
        )
        while chunk := list(islice(judgements, CHUNK)):
            if not _store(batch, chunk):
                break
            report_progress(batch.rows_judged, batch.rows_total, phase=gettext("Rows checked"))
    return ImportBatch.objects.select_related("school", "actor").get(pk=batch.pk)


def _earlier(batch: ImportBatch) -> Iterator[RowJudgement]:
    wanted = {name: KT(f"values__{name}") for name in ("asset_number", "second_number", "maker", "serial")}
    stored = ImportRow.objects.filter(batch=batch).order_by("number").annotate(**wanted)
    for number, state, fingerprint, *texts in stored.values_list("number", "state", "fingerprint", *wanted).iterator():
        values = {name: text for name, text in zip(wanted, texts, strict=True) if text}
        is_skipped = state == ImportRow.State.SKIPPED
        yield RowJudgement(number, RowState.SKIPPED if is_skipped else RowState.NEW, values, fingerprint)


@service
def _store(batch: ImportBatch, chunk: list[RowJudgement]) -> bool:
    """Keep a chunk's answers, unless somebody else has judged it or the columns have changed."""
    now = ImportBatch.objects.select_for_update().get(pk=batch.pk)
    same = [(one.rows_judged, one.state, one.mapping, one.answers) for one in (now, batch)]
    if same[0] != same[1]:
        return False
    ImportRow.objects.bulk_create(_row(batch, judgement) for judgement in chunk)
    for state, count in Counter(judgement.state for judgement in chunk).items():
        setattr(now, SUMS[state], getattr(now, SUMS[state]) + count)
    asks = [problem.asks for judgement in chunk for problem in judgement.problems if problem.asks.startswith("kind:")]
    words = Counter(one.removeprefix("kind:") for one in asks)
    now.asked = now.asked | {"kinds": dict(words + Counter(now.asked.get("kinds", {})))}
    now.rows_judged += len(chunk)
    if now.rows_judged >= now.rows_total:
        now.state = ImportBatch.State.JUDGED
    now.save(update_fields=["rows_judged", "state", "asked", *SUMS.values()])
    batch.rows_judged, batch.state = now.rows_judged, now.state
    return True


def _row(batch: ImportBatch, judgement: RowJudgement) -> ImportRow:
    reason = judgement.reason
    return ImportRow(
        batch=batch,
        number=judgement.number,
        state=STATES[judgement.state],
        column=judgement.column[:LONGEST_HEADING],
        reason=reason if len(reason) <= LONGEST_REASON else f"{reason[: LONGEST_REASON - 1]}…",
        cells=as_json(judgement.cells),
        values=judgement.values,
        remarks={
            "notes": judgement.notes,
            "problems": [[problem.column, problem.reason] for problem in judgement.problems],
            "match": judgement.match,
            "is_asked": bool(judgement.problems) and all(problem.asks for problem in judgement.problems),
        },
        fingerprint=judgement.fingerprint,
    )


# Discarding


@service
def drop_import(*, batch: ImportBatch, actor: User | None, at: datetime) -> None:
    """Discard a list that was not published; nothing of it stays but that it was there."""
    dropped = ImportBatch.objects.filter(pk=batch.pk, state__in=OPEN).update(
        state=ImportBatch.State.DROPPED, header=[], mapping={}, answers={}, asked={}
    )
    if not dropped:
        words = gettext("This list has already been imported or discarded.")
        raise RefusedError(already(words, subject=batch, acts=["imported", "import_dropped"]))
    ImportRow.objects.filter(batch=batch.pk).delete()
    log(batch=batch, act="import_dropped", actor=actor, at=at)
    transaction.on_commit(lambda: forget_file(batch=batch))


def forget_file(*, batch: ImportBatch) -> None:
    """Delete the rows as they were sent: they may name people."""
    if batch.file:
        batch.file.delete(save=False)
    ImportBatch.objects.filter(pk=batch.pk).update(file="")


def forget_old_lists(*, at: datetime) -> tuple[int, int]:
    """Discard lists that nobody confirmed for so long, and the problem rows of lists imported so long ago.

    Return how many lists were discarded, and how many rows deleted. Files of lists that are done go too: a process that
    stopped right after the list was saved may have left one.
    """
    lists = list(ImportBatch.objects.filter(state__in=OPEN, begun_at__lt=at - KEPT_FOR))
    for batch in lists:
        drop_import(batch=batch, actor=None, at=at)
    for batch in ImportBatch.objects.exclude(state__in=OPEN).exclude(file=""):
        forget_file(batch=batch)
    published = ImportBatch.objects.filter(state=ImportBatch.State.PUBLISHED, published_at__lt=at - KEPT_FOR)
    with_problems = published.filter(rows__state=ImportRow.State.PROBLEM).distinct()
    return len(lists), sum(forget_problem_rows(batch=batch, actor=None, at=at) for batch in with_problems)


@service
def forget_problem_rows(*, batch: ImportBatch, actor: User | None, at: datetime) -> int:
    """Delete the problem rows of an imported list; return how many. The list says only that it was there."""
    if not ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.PUBLISHED).exists():
        raise RefusedError(gettext("This list has not been imported yet. Discard it instead."))
    count, _rows = ImportRow.objects.filter(batch=batch.pk, state=ImportRow.State.PROBLEM).delete()
    if count:
        log(batch=batch, act="import_rows_forgotten", actor=actor, at=at, rows=count)
    return count


def log(*, batch: ImportBatch, act: str, actor: User | None, at: datetime, **after: object) -> None:
    record_event(actor=actor, act=act, subject=batch, at=at, tenant=batch.school_id, after=after)
