"""Many new rows in one short transaction: everything that can be prepared is prepared before it begins.

The ORM's bulk_create builds objects, expressions and placeholders while the transaction holds the database. On SQLite,
with its single writer, that is most of the time others wait.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, islice
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connection, connections, models, transaction

AT_ONCE = 5000
VALUES_AT_ONCE = 900  # the parameters every SQLite accepts in one statement


def columns_of(model: type[models.Model], *, with_key: bool = False) -> list[models.Field[Any, Any]]:
    """Return the model's own columns in table order; the key only if it was reserved."""
    return [field for field in model._meta.local_concrete_fields if with_key or not field.primary_key]


@transaction.atomic
def reserve_keys(model: type[models.Model], *, count: int) -> list[int]:
    """Reserve primary keys before the rows are written. Unused keys leave a harmless gap."""
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
    """Yield unsaved objects as lists of database values."""
    database = connections[DEFAULT_DB_ALIAS]  # not the proxy: it looks up the connection for every value
    columns = [(field.attname, field.get_db_prep_save) for field in columns_of(model, with_key=with_key)]
    for one in objects:
        yield [prepare(getattr(one, name), database) for name, prepare in columns]


def insert_rows(model: type[models.Model], rows: Iterable[Sequence[Any]], *, with_key: bool = False) -> None:
    """Insert rows made by ``rows_of``. Raises IntegrityError as saving one by one would."""
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
