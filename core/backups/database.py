"""The database's part of a backup: one moment of it, taken while others write, and put back where there is none."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, connection, models, transaction

from core.exceptions import BackupError
from core.models import EventHead
from core.storage import to_disk

Ask = Callable[[str], Sequence[Sequence[Any]]]
ROOT_OF_PROGRAMS = Path("/usr/lib/postgresql")  # where Debian keeps those of each version


@dataclass(frozen=True, slots=True)
class Snapshot:
    """One moment of the database, as a file, with what it says of itself."""

    path: Path
    kind: str  # "sqlite" or "postgresql"
    counts: dict[str, int]  # rows of each table
    head: tuple[int, str]  # number and hash of the newest event
    migrations: list[str]
    files: list[str]  # the names that rows hold


def take_snapshot(folder: Path) -> Snapshot:
    """Save one moment of the database in the folder; others may go on writing."""
    if connection.vendor == "sqlite":
        return _copy_sqlite(folder / "database")
    if connection.vendor == "postgresql":
        return _dump_postgresql(folder / "database")
    raise BackupError(f"There is no backup for {connection.vendor} yet.")


def _copy_sqlite(path: Path) -> Snapshot:
    try:
        with connection.cursor() as cursor:
            # Without the pages that were given up: what was erased does not come along.
            cursor.execute("VACUUM INTO %s", [str(path)])
    except DatabaseError as error:
        raise BackupError(f"The database could not be copied: {error}.") from None
    check_sqlite(path)
    with closing(_opened(path)) as copy:
        return _snapshot(path, "sqlite", lambda sql: copy.execute(sql).fetchall())


def check_sqlite(path: Path) -> None:
    """BackupError unless the file is a whole database whose rows all lead somewhere."""
    try:
        with closing(_opened(path)) as copy:
            verdict = copy.execute("PRAGMA integrity_check").fetchone()[0]
            stray = copy.execute("PRAGMA foreign_key_check").fetchone()
    except sqlite3.DatabaseError as error:
        raise BackupError(f"The copy of the database is damaged: {error}.") from None
    if verdict != "ok":
        raise BackupError(f"The copy of the database is damaged: {verdict.splitlines()[0]}.")
    if stray:
        raise BackupError(f"A row of {stray[0]} names a row of {stray[2]} that is not there.")


def _opened(path: Path) -> sqlite3.Connection:
    """Open a copy to read it. As a quoted address: in a folder's name, a # or % would mean something else."""
    return sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)


def _dump_postgresql(path: Path) -> Snapshot:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        (moment,) = cursor.fetchone()
        run_program(
            "pg_dump", "--format=custom", "--no-owner", "--no-privileges", f"--snapshot={moment}", f"--file={path}"
        )
        return _snapshot(path, "postgresql", asking(cursor))


def asking(cursor: Any) -> Ask:
    def ask(sql: str) -> Sequence[Sequence[Any]]:
        cursor.execute(sql)
        rows: Sequence[Sequence[Any]] = cursor.fetchall()
        return rows

    return ask


def find_program(name: str) -> str:
    """Return the newest of PostgreSQL's programs: an older one refuses a newer server."""
    versions = [path for path in ROOT_OF_PROGRAMS.glob(f"*/bin/{name}") if path.parts[-3].isdigit()]
    if versions:
        return str(max(versions, key=lambda path: int(path.parts[-3])))
    found = shutil.which(name)
    if found is None:
        raise BackupError(f"{name} is not installed here: install the package postgresql-client.")
    return found


def run_program(name: str, *arguments: str) -> None:
    """Run one of PostgreSQL's programs on our database."""
    from psycopg import conninfo, pq  # slow to import, and not needed on SQLite

    params = connection.get_connection_params()
    known = {one.keyword.decode() for one in pq.Conninfo.get_defaults()} - {"password", "client_encoding"}
    about = {key: value for key, value in params.items() if key in known}
    # The password goes along in a file of ours: what stands in a command, every account of the machine sees.
    with NamedTemporaryFile("w", prefix="backup-", dir=settings.VAR_DIR, encoding="utf-8") as secret:
        password = str(params.get("password") or "").replace("\\", "\\\\").replace(":", "\\:")
        secret.write(f"*:*:*:*:{password}\n")
        secret.flush()
        where = conninfo.make_conninfo(**about, passfile=secret.name)
        command = [find_program(name), *arguments, f"--dbname={where}"]
        done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603  # ours
    if done.returncode:
        message = (done.stderr.strip().splitlines() or ["no reason given"])[0]
        raise BackupError(f"{name} failed: {message.removeprefix(f'{name}: ')}")


def _snapshot(path: Path, kind: str, ask: Ask) -> Snapshot:
    head = ask(f"SELECT last_number, last_hash FROM {EventHead._meta.db_table} WHERE id = 1")  # noqa: S608  # our own name
    return Snapshot(
        path=path,
        kind=kind,
        counts=count_rows(ask),
        head=(head[0][0], head[0][1]) if head else (0, ""),
        migrations=applied_migrations(ask),
        files=sorted(named_files(ask)),
    )


def count_rows(ask: Ask) -> dict[str, int]:
    return {table: _count(ask, table) for table in our_tables()}


def _count(ask: Ask, table: str) -> int:
    found: int = ask(f"SELECT COUNT(*) FROM {connection.ops.quote_name(table)}")[0][0]  # noqa: S608  # our own names
    return found


def our_tables() -> list[str]:
    every = (model._meta for model in apps.get_models(include_auto_created=True))
    return sorted({meta.db_table for meta in every if meta.managed and not meta.proxy})


def applied_migrations(ask: Ask) -> list[str]:
    return sorted(f"{app}.{name}" for app, name in ask("SELECT app, name FROM django_migrations"))


def named_files(ask: Ask) -> set[str]:
    """Return the name of every file that a row holds."""
    return {row[0] for field in _file_fields() for row in ask(_names_in(field)) if row[0]}


def _file_fields() -> list[models.FileField]:
    every = (field for model in apps.get_models() for field in model._meta.concrete_fields)
    return [field for field in every if isinstance(field, models.FileField)]


def _names_in(field: models.FileField) -> str:
    quote = connection.ops.quote_name
    table, column = quote(field.model._meta.db_table), quote(field.column or "")
    return f"SELECT DISTINCT {column} FROM {table} WHERE {column} <> ''"  # noqa: S608  # our own names


def still_named(name: str) -> bool:
    """Whether a row names the file now."""
    return any(field.model._default_manager.filter(**{field.name: name}).exists() for field in _file_fields())


def place_problem() -> str:
    """Return why the database's place is not empty, or ""."""
    name = str(connection.settings_dict["NAME"])
    if connection.vendor == "sqlite":
        taken = next((path for end in ("", "-wal", "-journal") if (path := Path(name + end)).exists()), None)
        return f"There is a database at {taken} already." if taken and taken.stat().st_size else ""
    if tables := connection.introspection.table_names():
        return f"The database {name} has {len(tables)} tables already."
    return ""


@contextmanager
def load_database(path: Path, *, kind: str, counts: dict[str, int]) -> Iterator[None]:
    """Put a snapshot where there is no database; if the body fails, it is gone again."""
    if kind != connection.vendor:
        raise BackupError(f"The backup is of {kind}, and DATABASE_URL names {connection.vendor}.")
    load = _place_sqlite if kind == "sqlite" else _place_postgresql
    with load(path):
        with connection.cursor() as cursor:
            known = {*connection.introspection.table_names(cursor)}
            ask = asking(cursor)
            for table, count in counts.items():
                there = _count(ask, table) if table in known else 0
                if there != count:
                    raise BackupError(f"{table} has {there} rows, its manifest says {count}.")
        yield


@contextmanager
def _place_sqlite(path: Path) -> Iterator[None]:
    check_sqlite(path)
    connection.close()
    place = Path(str(connection.settings_dict["NAME"]))
    part = place.with_name(f"{place.name}.restoring")
    try:
        shutil.copyfile(path, part)
        part.chmod(0o600)
        to_disk(part)
        part.replace(place)
        yield
    except BaseException:
        connection.close()
        for end in ("", "-wal", "-shm"):
            place.with_name(place.name + end).unlink(missing_ok=True)
        raise
    finally:
        part.unlink(missing_ok=True)


@contextmanager
def _place_postgresql(path: Path) -> Iterator[None]:
    how = ("--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges")
    run_program("pg_restore", *how, str(path))  # all of it or nothing
    try:
        yield
    except BaseException:
        connection.close()
        _empty_postgresql()
        raise


def _empty_postgresql() -> None:
    """Take out again what was put into a place that had no tables."""
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"DROP TABLE IF EXISTS {connection.ops.quote_name(table)} CASCADE")
        cursor.execute(
            "SELECT oid::regprocedure::text FROM pg_proc WHERE pronamespace = current_schema()::regnamespace"
        )
        for (routine,) in cursor.fetchall():
            cursor.execute(f"DROP ROUTINE IF EXISTS {routine} CASCADE")
