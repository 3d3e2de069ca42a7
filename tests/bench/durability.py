"""What it costs that an act is on the disk before it is answered: SQLite's FULL against NORMAL, and a file."""

from __future__ import annotations

import os
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from django.conf import settings

from core.storage import to_disk
from tests.bench.figures import Figure, middle, p95

ROUNDS = 300


def section(_run: object) -> Iterator[Figure]:
    """Measured on the disk that holds the database, with a commit of 20 rows and a file of 10 kB."""
    with tempfile.TemporaryDirectory(prefix="bench-", dir=settings.VAR_DIR) as name:
        folder = Path(name)
        for level in ("NORMAL", "FULL"):
            taken = list(commits(folder / f"{level}.sqlite3", level))
            yield Figure(f"a commit, synchronous={level}", middle(taken), p95(taken))
        taken = list(files(folder))
        yield Figure("a file on the disk", middle(taken), p95(taken))


def commits(path: Path, level: str) -> Iterator[float]:
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode=WAL")
        db.execute(f"PRAGMA synchronous={level}")
        db.execute("CREATE TABLE event (id INTEGER PRIMARY KEY, hash TEXT UNIQUE, body TEXT)")
        for _ in range(ROUNDS):
            start = time.perf_counter()
            db.execute("BEGIN IMMEDIATE")
            for _ in range(20):
                db.execute("INSERT INTO event (hash, body) VALUES (?, ?)", [os.urandom(32).hex(), "x" * 400])
            db.execute("COMMIT")
            yield (time.perf_counter() - start) * 1000


def files(folder: Path) -> Iterator[float]:
    for number in range(ROUNDS):
        start = time.perf_counter()
        path = folder / f"{number}.png"
        path.write_bytes(os.urandom(10_000))
        to_disk(path)
        to_disk(folder)
        yield (time.perf_counter() - start) * 1000
