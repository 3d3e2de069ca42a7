"""A whole file in one go, for the command line: judged without writing anything, or brought in."""

from __future__ import annotations

from datetime import date, datetime

from core.sheets import read_sheet
from inventory.models import ImportBatch, School
from inventory.rules.intake.headings import is_heading
from inventory.rules.intake.judge import RowJudgement
from inventory.selectors.importing import guessed_columns, judged_rows
from inventory.services.importing.publishing import publish_import
from inventory.services.importing.staging import (
    begin_import,
    choose_columns,
    drop_import,
    forget_old_lists,
    judge_more,
    refuse_without_kind,
    sample_rows,
)


def judge_file(*, school: School, data: bytes, filename: str, today: date, worksheet: str = "") -> list[RowJudgement]:
    """Judge every row with the guessed columns. Writes nothing; raises RefusedError."""
    sheet = read_sheet(data=data, filename=filename, worksheet=worksheet, is_heading=is_heading)
    mapping = guessed_columns(school=school, header=list(sheet.header), sample=sheet.sample)
    refuse_without_kind(mapping)
    return list(judged_rows(sheet.rows, mapping=mapping, school=school, actor=None, today=today))


def import_file(*, school: School, data: bytes, filename: str, at: datetime, today: date, worksheet: str = "") -> int:
    """Bring in every new row, or raise RefusedError and write none; return how many there were.

    Nobody is the actor: the events say that a command did it.
    """
    forget_old_lists(at=at)
    batch = begin_import(school=school, data=data, filename=filename, worksheet=worksheet, actor=None, at=at).batch
    guess = guessed_columns(school=school, header=batch.header, sample=sample_rows(batch))
    choose_columns(batch=batch, choices=guess.choices, actor=None, at=at, remember=False)
    batch = judge_more(batch=batch, today=today)
    if batch.state == ImportBatch.State.JUDGED and not batch.rows_new:
        drop_import(batch=batch, actor=None, at=at)
        return 0
    return publish_import(batch=batch, actor=None, at=at, today=today).written
