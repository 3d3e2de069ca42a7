"""Every service locks in one order (core/acts.py): instruments by key, their rows, stock, last the head of the log.

What a statement locks is read from its text, in every test and on every connection. PostgreSQL shows each lock; SQLite
has none and shows only what is changed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import pytest
from django.db.backends.signals import connection_created

from core import acts

INSTRUMENT, ROWS, STOCK, HEAD = range(4)
RANKS = {"inventory_instrument": INSTRUMENT, "repairs_stockitem": STOCK, "core_eventhead": HEAD}
UNRANKED = {
    "core_postedform",  # a row of the act's own: nobody else has it before the act ends
    "repairs_carenext",  # written at the end of an act that holds its instrument: nobody else can hold it
}
LOCKS = re.compile(
    r'^(?:UPDATE|DELETE FROM) "(?P<changed>\w+)"'
    r'|^SELECT .*? FROM "(?P<read>\w+)".*\bFOR (?:NO KEY )?UPDATE'
    r'|^INSERT INTO "(?P<put>\w+)".*\bDO UPDATE\b',
    re.DOTALL,
)
KEYS = re.compile(r'"inventory_instrument"\."id" (?:= %s|IN \((?:%s(?:, )?)+\))')
REST = re.compile(r'"inventory_instrument"\."id" > %s\b.*ORDER BY "inventory_instrument"\."id" ASC', re.DOTALL)

_wrong: list[str] = []


def pytest_configure() -> None:
    connection_created.connect(_watch)


def _watch(connection: Any, **_signal: Any) -> None:
    if _check not in connection.execute_wrappers:
        connection.execute_wrappers.append(_check)


def _check(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
    act, found = acts._running.get(), LOCKS.match(sql)
    if act is not None and found is not None:
        table = next(name for name in found.groups() if name)
        if table not in UNRANKED:
            _wrong.extend(complaints(act, sql, params, table=table, is_read=found["read"] is not None))
    return execute(sql, params, many, context)


def complaints(act: acts.Act, sql: str, params: Sequence[Any], *, table: str, is_read: bool) -> Iterator[str]:
    """Yield what is wrong with one more lock in an act, and keep it in mind for the next one."""
    rank, highest = RANKS.get(table, ROWS), act.memory.get("highest lock", (INSTRUMENT, ""))
    if rank == INSTRUMENT:
        held = {pk for model, pk in act.rows if model._meta.db_table == table}
        new = keys_in(sql, params) - held
        if new and not is_read:
            yield f"instruments {sorted(new)} are changed without having been locked: {sql[:200]}"
        if new and highest[0] > INSTRUMENT:
            yield f"instruments {sorted(new)} are locked after {highest[1]}"
        if new and held and min(new) < max(held):
            yield f"instruments {sorted(new)} are locked after {sorted(held)}"
    elif rank < highest[0]:
        yield f"{table} is locked after {highest[1]}: {sql[:200]}"
    if rank >= highest[0]:
        act.memory["highest lock"] = rank, table


def keys_in(sql: str, params: Sequence[Any]) -> set[int]:
    found = KEYS.search(sql) or REST.search(sql)
    if found is None:
        return {-1}  # whichever they are, nobody has locked them by their keys
    first = sql[: found.start()].count("%s")
    if found.re is REST:
        return {params[first] + 1}  # and those that come after it
    return set(params[first : first + found.group().count("%s")])


@pytest.fixture(autouse=True)
def _locks_are_taken_in_one_order() -> Iterator[None]:
    _wrong.clear()
    yield
    assert not _wrong, "\n".join(_wrong)
