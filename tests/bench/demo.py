"""The demo district: how long it takes to load, and whether the promises of its jobs were kept."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from time import perf_counter

from tests.bench.figures import Figure
from tests.bench.sections import Run


def run_python(*arguments: str, folder: Path, name: str) -> str:
    """Run this Python on a database of its own, migrated, in a process of its own; return what it printed."""
    surroundings = os.environ | {
        "DATABASE_URL": f"sqlite:///{folder}/{name}.sqlite3",
        "HORNBOOK_MEDIA_DIR": f"{folder}/{name}",
    }
    Path(folder, name).mkdir(exist_ok=True)
    for command in (("manage.py", "migrate", "--verbosity", "0"), arguments):
        done = subprocess.run(
            [sys.executable, *command], env=surroundings, check=False, capture_output=True, text=True
        )  # fmt: skip
        if done.returncode:
            raise RuntimeError(f"{' '.join(command[:2])}: {done.stderr[-2000:]}")
    return done.stdout


def section(run: Run) -> Iterator[Figure]:
    started = perf_counter()
    run_python("manage.py", "load_demo", folder=run.folder, name="demo")
    yield Figure("migrated and loaded", (perf_counter() - started) * 1000, most_ms=90_000)
    promises = run_python("-m", "tests.bench.promises", folder=run.folder, name="demo").strip()
    yield Figure("promised minutes", note=promises)
