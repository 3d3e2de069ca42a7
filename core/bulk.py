"""Many new rows in one short transaction: what can be made ready is made ready before it begins.

The ORM's own bulk_create builds one object, one expression and one placeholder after another while the transaction
holds the database; on SQLite, where one writer waits for the other, that is most of the time others wait.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, islice
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connection, connections, models, transaction

AT_ONCE = 5000
VALUES_AT_ONCE = 900  # what every SQLite takes in one statement


def columns_of(model: type[models.Model], *, with_key: bool = False) -> list[models.Field[Any, Any]]:
    """The model's own columns in the order of its table; the key only where it has been reserved."""
    return [field for field in model._meta.local_concrete_fields if with_key or not field.primary_key]


@transaction.atomic
def reserve_keys(model: type[models.Model], *, count: int) -> list[int]:
    """Take keys that nobody else gets, before the rows are written. Keys never used leave a gap, which does no harm."""
    table, key = model._meta.db_table, model._meta.pk.column
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence(%s, %s)) FROM generate_series(1, %s)",
                [connection.ops.quote_name(table), key, count],
            )
            return [row[0] for row in cursor.fetchall()]
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        found = cursor.fetchone()
        if found is None:
            cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, count])
        else:
            cursor.execute("UPDATE sqlite_sequence SET seq = seq + %s WHERE name = %s", [count, table])
        last = found[0] if found else 0
    return list(range(last + 1, last + count + 1))


def rows_of(
    objects: Iterable[models.Model], *, model: type[models.Model], with_key: bool = False
) -> Iterator[list[Any]]:
    """Unsaved objects as the database takes them."""
    database = connections[DEFAULT_DB_ALIAS]  # not the proxy, which looks itself up for every value
    columns = [(field.attname, field.get_db_prep_save) for field in columns_of(model, with_key=with_key)]
    for one in objects:
        yield [prepare(getattr(one, name), database) for name, prepare in columns]


def insert_rows(model: type[models.Model], rows: Iterable[Sequence[Any]], *, with_key: bool = False) -> None:
    """Write rows made by ``rows_of``, or like them. Raises IntegrityError as saving one by one would."""
    quote = connection.ops.quote_name
    names = [quote(field.column) for field in columns_of(model, with_key=with_key) if field.column]
    places = f"({', '.join(['%s'] * len(names))})"
    statement = f"INSERT INTO {quote(model._meta.db_table)} ({', '.join(names)}) VALUES "  # noqa: S608  # our own names
    waiting = iter(rows)
    with connection.cursor() as cursor:
        while some := list(islice(waiting, AT_ONCE)):
            if len(some) * len(names) <= VALUES_AT_ONCE:
                cursor.execute(statement + ", ".join([places] * len(some)), [*chain.from_iterable(some)])
            else:
                cursor.executemany(statement + places, some)
