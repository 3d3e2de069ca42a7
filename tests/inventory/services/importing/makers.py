"""Lists on their way into the register."""

from __future__ import annotations

import io
from typing import Any

from openpyxl import Workbook

from core.models import User
from inventory.models import ImportBatch, School
from inventory.selectors.importing import guessed_columns
from inventory.services.importing import begin_import, choose_columns, judge_more, sample_rows
from tests.factories import NOW, TODAY, make_director

LIST = b"Instrument,Make,Serial,Tag\nTpt,Plain,1,\nFlute,Plain,2,F-1\nNothing known,Plain,3,\n"


def make_batch(*, school: School, data: bytes = LIST, actor: User | None = None, name: str = "a.csv") -> ImportBatch:
    actor = actor or make_director(school)
    return begin_import(school=school, data=data, filename=name, actor=actor, at=NOW).batch


def make_workbook(rows: list[list[Any]]) -> bytes:
    book, out = Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(out)
    return out.getvalue()


def make_received(*, school: School, actor: User | None = None, rows: int = 12, data: bytes = b"") -> ImportBatch:
    """A workbook that counts as large, waiting to be read."""
    data = data or make_workbook([["Instrument", "Serial"], *(["Tpt", str(n)] for n in range(rows))])
    actor = actor or make_director(school)
    begun = begin_import(school=school, data=data, filename="a.xlsx", actor=actor, at=NOW, read_at_once=10)
    return begun.batch


def choices_for(batch: ImportBatch) -> dict[int, str]:
    guess = guessed_columns(school=batch.school, header=batch.header, sample=sample_rows(batch))
    return guess.choices


def make_judged(*, school: School, data: bytes = LIST, actor: User | None = None, name: str = "a.csv") -> ImportBatch:
    batch = make_batch(school=school, data=data, actor=actor, name=name)
    choose_columns(batch=batch, choices=choices_for(batch), actor=batch.actor, at=NOW)
    return judge_more(batch=batch, today=TODAY)
