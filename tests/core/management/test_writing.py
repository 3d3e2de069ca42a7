from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent.parent
WRITERS = [
    "set_up --administrator adi",
    "import_instruments list.csv --school ELM",
    "forget_lists",
    "forget_forms",
    "delete_old_papers",
]


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    surroundings = {"PATH": os.environ["PATH"], "HORNBOOK_VAR_DIR": str(folder)}
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env=surroundings,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.mark.pure
@pytest.mark.parametrize(
    "command",
    [WRITERS[0], *(pytest.param(command, marks=pytest.mark.drill) for command in WRITERS[1:])],
    ids=lambda command: command.split()[0],
)
def test_a_command_that_writes_says_that_no_database_has_begun_and_leaves_the_demo_alone(tmp_path, command):
    demo = tmp_path / "demo.sqlite3"
    subprocess.run(
        [
            sys.executable,
            "-c",
            f"import sqlite3; c = sqlite3.connect({str(demo)!r}); c.execute('CREATE TABLE django_migrations (id)')",
        ],
        check=True,
    )
    before = demo.read_bytes()
    answer = run(tmp_path, *command.split())
    assert answer.returncode == 2
    assert "make serve" in answer.stderr
    assert demo.read_bytes() == before


@pytest.mark.pure
def test_the_worker_makes_no_database_where_one_is_gone(tmp_path):
    """It is started again while the file is away, beside a server that would find an empty one in its place."""
    done = run(tmp_path, "work")
    assert "The database does not answer" in done.stderr
    assert list(tmp_path.glob("*.sqlite3*")) == []
