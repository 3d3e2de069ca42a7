"""Lists on their way into the register."""

from __future__ import annotations

from core.models import User
from inventory.models import ImportBatch, School
from inventory.selectors.importing import guessed_columns
from inventory.services.importing import begin_import, choose_columns, judge_more, sample_rows
from tests.factories import NOW, TODAY, make_director

LIST = b"Instrument,Make,Serial,Tag\nTpt,Plain,1,\nFlute,Plain,2,F-1\nNothing known,Plain,3,\n"


def make_batch(*, school: School, data: bytes = LIST, actor: User | None = None, name: str = "a.csv") -> ImportBatch:
    actor = actor or make_director(school)
    return begin_import(school=school, data=data, filename=name, actor=actor, at=NOW).batch


def choices_for(batch: ImportBatch) -> dict[int, str]:
    guess = guessed_columns(school=batch.school, header=batch.header, sample=sample_rows(batch))
    return {column.index: column.field.value if column.field else "" for column in guess.columns}


def make_judged(*, school: School, data: bytes = LIST, actor: User | None = None, name: str = "a.csv") -> ImportBatch:
    batch = make_batch(school=school, data=data, actor=actor, name=name)
    choose_columns(batch=batch, choices=choices_for(batch), actor=batch.actor, at=NOW)
    return judge_more(batch=batch, today=TODAY)
