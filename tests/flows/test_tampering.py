"""Edits past the program, by plain SQL with the triggers down: ``verify`` finds every one, and nothing without them."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

import pytest
from django.db import IntegrityError, connection, models, transaction

from core import traces
from core.models import Event
from core.revisions import kept_of, row_differences
from core.traces import registered, trace_differences
from desk.selectors.verifying import differences
from inventory.models import Donation, Instrument
from tests.filled import fill_district
from tests.tampering import tamper

ROUNDS = 12
KEPT = [kept_of(model) for model in (Instrument, Donation)]


@pytest.fixture(scope="module")
def district(shared_rows):
    fill_district()


def found() -> list[str]:
    return differences()[1]


def protected() -> list[tuple[type[models.Model], int, str]]:
    """Every column of every row that an event says something of."""
    said: list[tuple[type[models.Model], int, str]] = []
    differ = traces._row_differs

    def noted(model, row, known, **rest):
        derived = next((one.derived for one in registered() if one.model is model), {})
        said.extend((model, row["pk"], derived.get(column, (column,))[0]) for column in known.columns)
        return differ(model, row, known, **rest)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(traces, "_row_differs", noted)
        assert list(traces.log_differences()) == []
    for kept in KEPT:
        for pk in kept.model._base_manager.values_list("pk", flat=True):
            said.extend((kept.model, pk, column) for column in (*kept.values, *kept.texts))
    return said


def other(value: Any, field: models.Field) -> Any:
    """A value of the same type that is not this one."""
    match value:
        case bool():
            return not value
        case datetime() | date():
            return value + timedelta(days=1)
        case int() | Decimal():
            return value + 1
        case list():
            return [*value, "x"]
        case dict():
            return value | {"x": "x"}
        case str():
            return f"x{value}"[: getattr(field, "max_length", None)] if value else "x"
    return {"DateTimeField": datetime(2026, 1, 1, tzinfo=UTC), "DateField": date(2026, 1, 1), "DecimalField": 7,
            "CharField": "x"}.get(field.get_internal_type(), 7)  # fmt: skip


def quoted(field: models.Field) -> str:
    return connection.ops.quote_name(field.column)


def change_column(model: type[models.Model], pk: int, column: str) -> None:
    field = model._meta.get_field(column)
    value = model._base_manager.values_list(field.attname, flat=True).get(pk=pk)
    new = field.get_db_prep_save(other(value, field), connection)
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {model._meta.db_table} SET {quoted(field)} = %s WHERE id = %s", [new, pk])  # noqa: S608


def delete_row(model: type[models.Model], pk: int) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {model._meta.db_table} WHERE id = %s", [pk])  # noqa: S608


def add_row(model: type[models.Model], pk: int) -> None:
    """The same row once more, under another key, as far as the database takes it."""
    columns = [field for field in model._meta.concrete_fields if not field.primary_key]
    names = ", ".join(quoted(field) for field in columns)
    values = ", ".join(
        f"'x' || substr({quoted(field)}, 2)" if field.unique and isinstance(field, models.CharField)
        else f"{quoted(field)} + 1" if field.unique and isinstance(field, models.IntegerField)
        else quoted(field)
        for field in columns
    )  # fmt: skip
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {model._meta.db_table} (id, {names}) SELECT 987654, {values} FROM {model._meta.db_table}"  # noqa: S608
            " WHERE id = %s",
            [pk],
        )


def soon_found(model: type[models.Model]) -> Iterator[str]:
    """What verify finds, the parts of it that read rows of the model before the whole of it."""
    if any(kept.model is model for kept in KEPT):
        yield from row_differences()
    for trace in registered():
        if trace.model is model or any(named.model is model for named in trace.named):
            yield from trace_differences(trace)
    yield from found()


def is_found(edit: Callable[[], None], finds: Callable[[], Iterable[str]] = found) -> bool | None:
    """Whether verify finds the edit; None where the database does not take it. Everything is as before afterward."""
    try:
        with transaction.atomic():
            edit()
            told = any(finds())
            transaction.set_rollback(True)
    except IntegrityError:
        return None
    return told


def edits_of_the_log() -> dict[str, Callable[[], None]]:
    last = Event.objects.newest_first()[0]
    return {
        "wiped": lambda: tamper("DELETE FROM core_event"),
        "wiped with its head": lambda: (tamper("DELETE FROM core_event"), tamper("DELETE FROM core_eventhead")),
        "wiped, head set back": lambda: (
            tamper("DELETE FROM core_event"),
            tamper("UPDATE core_eventhead SET last_number = 0, last_hash = %s", "0" * 64),
        ),
        "tail cut": lambda: tamper("DELETE FROM core_event WHERE number > %s", last.number - 1),
        "tail cut, head forged": lambda: (
            tamper("DELETE FROM core_event WHERE number > %s", last.number - 1),
            tamper(
                "UPDATE core_eventhead SET last_number = %s, last_hash = (SELECT hash FROM core_event WHERE number = %s)",
                last.number - 1, last.number - 1,
            ),
        ),
        "one taken out": lambda: tamper("DELETE FROM core_event WHERE number = %s", last.number // 2),
        "two swapped": lambda: (
            tamper("UPDATE core_event SET number = 1000000 WHERE number = 5"),
            tamper("UPDATE core_event SET number = 5 WHERE number = 6"),
            tamper("UPDATE core_event SET number = 6 WHERE number = 1000000"),
        ),
        "an act changed": lambda: tamper("UPDATE core_event SET act = 'forged' WHERE number = 7"),
        "a moment changed": lambda: tamper("UPDATE core_event SET at = '2020-01-01 00:00:00+00:00' WHERE number = 7"),
        "an actor changed": lambda: tamper("UPDATE core_event SET actor_id = NULL WHERE number = %s", last.number // 2 + 1)
        if Event.objects.get(number=last.number // 2 + 1).actor_id
        else tamper("UPDATE core_event SET actor_id = (SELECT min(id) FROM core_user) WHERE number = %s", last.number // 2 + 1),
        "head gone": lambda: tamper("DELETE FROM core_eventhead"),
        "head forged": lambda: tamper("UPDATE core_eventhead SET last_hash = %s", "a" * 64),
        "a second head": lambda: tamper(
            "INSERT INTO core_eventhead (id, last_number, last_hash) VALUES (2, %s, %s)", last.number, last.hash
        ),
    }  # fmt: skip


def edits_of_rows() -> dict[str, tuple[type[models.Model], Callable[[], None]]]:
    """Each edit, by its name, with the model whose rows it changes."""
    edits: dict[str, tuple[type[models.Model], Callable[[], None]]] = {}
    rows = protected()
    for model, pk, column in rows:
        edits[f"{model.__name__} {pk}: {column}"] = model, partial(change_column, model, pk, column)
    begun = [(trace.model, trace.needs) for trace in registered()]
    begun += [(named.model, None) for trace in registered() for named in trace.named]
    for model, needs in begun:
        there = model._base_manager.filter(needs or models.Q()).order_by("pk").values_list("pk", flat=True)
        for pk in there:
            edits[f"{model.__name__} {pk} deleted"] = model, partial(delete_row, model, pk)
        for pk in there[:1]:
            edits[f"{model.__name__} added"] = model, partial(add_row, model, pk)
    return edits


def missed(edits: dict[str, Callable[[], None]]) -> list[str]:
    return [name for name, edit in edits.items() if is_found(edit) is False]


def test_nothing_is_found_in_a_district_that_nobody_touched(district, db):
    assert found() == []
    kinds = {label for (label,) in Event.objects.values_list("subject_type").distinct()}
    known = {trace.model._meta.label_lower for trace in registered()}
    known |= {named.model._meta.label_lower for trace in registered() for named in trace.named}
    assert kinds <= known, "events speak of models that no traces.py registers"
    assert {model.__name__ for model, *_ in protected()} >= {trace.model.__name__ for trace in registered()} - {"Shop"}


def test_every_edit_of_the_log_is_found(district, db):
    assert missed(edits_of_the_log()) == []


def test_edits_of_rows_drawn_at_random_are_found(district, db):
    edits = edits_of_rows()
    drawn = random.Random(12).sample(sorted(edits), ROUNDS)
    assert missed({name: edits[name][1] for name in drawn}) == []


@pytest.mark.drill
def test_every_edit_of_every_row_is_found(district, db, capsys):
    edits = edits_of_rows()
    answers = {name: is_found(edit, partial(soon_found, model)) for name, (model, edit) in edits.items()}
    refused = [name for name, answer in answers.items() if answer is None]
    with capsys.disabled():
        print(f"\n{len(edits)} edits of rows, {len(refused)} refused by the database")  # noqa: T201  # a figure of the drill
    assert [name for name, answer in answers.items() if answer is False] == []
