"""A whole file in one go, for the command line: judged without writing anything, or brought in."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from functools import partial

from core.sheets import read_sheet
from inventory.models import ImportBatch, School
from inventory.rules.intake.headings import is_heading
from inventory.rules.intake.judge import RowJudgement
from inventory.rules.intake.row import Answers
from inventory.selectors.importing import dates_in, guessed_columns, judged_rows, orders_shown
from inventory.services.importing.answering import answer_list
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


def judge_file(
    *,
    school: School,
    data: bytes,
    filename: str,
    today: date,
    worksheet: str = "",
    kinds: Mapping[str, str] | None = None,
    order: str = "",
) -> list[RowJudgement]:
    """Judge every row with the guessed columns. Writes nothing; raises RefusedError.

    ``kinds`` says what loose words mean; ``order`` is that of all dates, "" as their columns show it.
    """
    read = partial(read_sheet, data=data, filename=filename, worksheet=worksheet, is_heading=is_heading)
    sheet = read()
    mapping = guessed_columns(school=school, header=list(sheet.header), sample=sheet.sample)
    refuse_without_kind(mapping)
    shown = orders_shown(mapping, rows=sheet.rows)
    orders = {int(index): order or found["order"] for index, found in shown.items()}
    rows, answers = read().rows, Answers(kinds or {}, orders)
    return list(judged_rows(rows, mapping=mapping, school=school, actor=None, today=today, answers=answers))


def import_file(
    *,
    school: School,
    data: bytes,
    filename: str,
    at: datetime,
    today: date,
    worksheet: str = "",
    kinds: Mapping[str, str] | None = None,
    order: str = "",
) -> int:
    """Bring in every new row, or raise RefusedError and write none; return how many there were.

    Nobody is the actor: the events say that a command did it.
    """
    forget_old_lists(at=at)
    batch = begin_import(school=school, data=data, filename=filename, worksheet=worksheet, actor=None, at=at).batch
    guess = guessed_columns(school=school, header=batch.header, sample=sample_rows(batch))
    choose_columns(batch=batch, choices=guess.choices, actor=None, at=at, remember=False)
    if kinds or order:
        orders = dict.fromkeys(dates_in(guess), order) if order else {}
        answer_list(batch=batch, kinds=kinds or {}, orders=orders, actor=None, at=at)
    batch = judge_more(batch=batch, today=today)
    if batch.state == ImportBatch.State.JUDGED and not batch.rows_new:
        drop_import(batch=batch, actor=None, at=at)
        return 0
    return publish_import(batch=batch, actor=None, at=at, today=today).written
