"""A whole file in one go, for the command line: judged without writing anything, or brought in."""

from __future__ import annotations

from datetime import date, datetime

from core.sheets import SheetRefusedError, read_sheet
from inventory.exceptions import ImportRefusedError
from inventory.models import ImportBatch, School
from inventory.rules.intake.fields import is_heading
from inventory.rules.intake.judge import RowJudgement, judge_rows
from inventory.selectors.importing import (
    find_kind_code,
    guessed_columns,
    import_schools,
    kind_words,
    known_fleet,
    longest_texts,
    places_of,
)
from inventory.services.importing.forgetting import forget_old_lists
from inventory.services.importing.publishing import publish_import
from inventory.services.importing.staging import (
    begin_import,
    choose_columns,
    drop_import,
    judge_more,
    sample_rows,
    short_marks,
)


def judge_file(*, school: School, data: bytes, filename: str, today: date, worksheet: str = "") -> list[RowJudgement]:
    """Judge every row with the guessed columns. Writes nothing; raises ImportRefusedError."""
    schools = list(import_schools(None))
    try:
        sheet = read_sheet(data=data, filename=filename, worksheet=worksheet, is_heading=is_heading)
        mapping = guessed_columns(school=school, header=list(sheet.header), sample=sheet.sample)
        if mapping.gaps():
            raise ImportRefusedError(" ".join(mapping.gaps()))
        return list(
            judge_rows(
                rows=short_marks(sheet.rows, header=list(sheet.header)),
                mapping=mapping,
                known=known_fleet(schools),
                find_kind=find_kind_code,
                kind_words=kind_words(),
                places=places_of(schools, own=school),
                today=today,
                longest=longest_texts(),
            )
        )
    except SheetRefusedError as refusal:
        raise ImportRefusedError(str(refusal)) from refusal


def import_file(*, school: School, data: bytes, filename: str, at: datetime, today: date, worksheet: str = "") -> int:
    """Bring in every new row, or raise ImportRefusedError and write none; return how many there were.

    Nobody is the actor: the events say that a command did it.
    """
    forget_old_lists(at=at)
    batch = begin_import(school=school, data=data, filename=filename, worksheet=worksheet, actor=None, at=at).batch
    guess = guessed_columns(school=school, header=batch.header, sample=sample_rows(batch))
    choices = {column.index: column.field.value if column.field else "" for column in guess.columns}
    choose_columns(batch=batch, choices=choices, actor=None, at=at, remember=False)
    batch = judge_more(batch=batch, today=today)
    if batch.state == ImportBatch.State.JUDGED and not batch.rows_new:
        drop_import(batch=batch, actor=None, at=at)
        return 0
    return publish_import(batch=batch, actor=None, at=at, today=today).written
