"""The shapes a large district is built from, and the way rows get in."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any

from django.db import connection, models

from core.bulk import columns_of, insert_rows, reserve_keys, rows_of
from core.models import User
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import (
    Instrument,
    School,
)
from inventory.rules.facts import FindingFact
from inventory.services.registering import options_of
from loans.models import Student
from repairs.models import Bench
from tests.simulation.drawing import draw_inspection


@dataclass(frozen=True, slots=True)
class Pattern:
    """What is wrong with one of many instruments of a kind, and when it was looked at."""

    kind: Kind
    findings: tuple[FindingFact, ...]
    inspected_at: datetime


@dataclass
class Draft:
    """An instrument with what will hang on it, before it has a number in the database."""

    row: Instrument
    pattern: Pattern
    token: str
    is_reported: bool = False
    was_repaired: bool = False
    left_at: datetime | None = None  # it is out of the fleet since
    began_as: dict[str, Any] = field(default_factory=dict)  # what was corrected since, as events say it


@dataclass
class Big:
    """The district as built: who logs in, and the rows that the measurements pick from."""

    now: datetime
    people: dict[str, User] = field(default_factory=dict)
    schools: list[School] = field(default_factory=list)
    benches: dict[int, Bench] = field(default_factory=dict)
    students: dict[int, list[Student]] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)


def chunks(rows: Iterable[models.Model], size: int = 2000) -> Iterator[list[Any]]:
    waiting = iter(rows)
    while some := list(islice(waiting, size)):
        yield some


def insert(rows: Iterable[models.Model]) -> list[Any]:
    """Insert rows of one model, with keys of their own."""
    kept: list[Any] = []
    for some in chunks(rows, 10_000):
        model = type(some[0])
        if any(field.has_db_default() for field in model._meta.local_concrete_fields):
            kept.extend(model._default_manager.bulk_create(some, batch_size=2000))
            continue
        for row, key in zip(some, reserve_keys(model, count=len(some)), strict=True):
            row.pk, row._state.adding = key, False
        copy_in(model, rows_of(some, model=model, with_key=True), with_key=True)
        kept.extend(some)
    return kept


def copy_in(model: type[models.Model], rows: Iterable[Sequence[Any]], *, with_key: bool = False) -> None:
    """PostgreSQL takes many rows by COPY in a third of the time of INSERT."""
    if connection.vendor != "postgresql":
        insert_rows(model, rows, with_key=with_key)
        return
    quote = connection.ops.quote_name
    names = ", ".join(quote(field.column) for field in columns_of(model, with_key=with_key) if field.column)
    with connection.cursor() as cursor, cursor.copy(f"COPY {quote(model._meta.db_table)} ({names}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


def some_findings(kind: Kind, *, generator: random.Random) -> tuple[FindingFact, ...]:
    """Return one to four faults of parts that an instrument with the kind's usual options has, each once at a place."""
    there = {part.code for part in kind.parts_for(options_of(kind_code=kind.code, given={}))}
    drawn = draw_inspection(kind, catalog=catalog(), generator=generator)
    found = {(fact.part, fact.place, fact.fault): fact for fact in drawn if fact.part in there}
    return tuple(found.values())[: generator.choice((1, 2, 3, 4))]
