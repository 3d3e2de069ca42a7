"""What the set-up says where the machine lacks something: one sentence, with what to do. Nothing is installed here."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
PROGRAMS = ("bash", "cat", "cksum", "dirname", "env", "flock", "grep", "head", "id", "mkdir", "mktemp", "rm", "tail")
pytestmark = pytest.mark.pure


@pytest.fixture
def place(tmp_path):
    """A folder with our scripts and a path with a few programs: no apt-get, no npm, and only the Python that is put there."""
    shutil.copytree(ROOT / "scripts", tmp_path / "app" / "scripts")
    shutil.copytree(ROOT / "requirements", tmp_path / "app" / "requirements")
    shutil.copy(ROOT / "package-lock.json", tmp_path / "app")
    (tmp_path / "bin").mkdir()
    for name in PROGRAMS:
        if found := shutil.which(name):
            (tmp_path / "bin" / name).symlink_to(found)
    return tmp_path


def put(place, name, text):
    program = place / "bin" / name
    program.write_text(f"#!/bin/bash\n{text}\n", encoding="utf-8")
    program.chmod(0o755)


def python_with(place, shim):
    """The machine's own Python, with a module of ours in the place of one."""
    (place / "shim").mkdir()
    for name, text in shim.items():
        (place / "shim" / name).write_text(text, encoding="utf-8")
    put(place, "python3", f'PYTHONPATH={place / "shim"} exec /usr/bin/env -S PATH={os.environ["PATH"]} python3 "$@"')


def set_up(place):
    return subprocess.run(
        ["bash", "scripts/setup.sh", "app"], cwd=place / "app",
        env={"PATH": str(place / "bin"), "HOME": str(place), "HORNBOOK_VAR_DIR": str(place / "data")},
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip


def test_without_python_it_says_what_to_install(place):
    ended = set_up(place)
    assert ended.returncode == 1
    assert ended.stderr == (
        "!! Hornbook needs Python 3.11 or later: as root, apt-get install python3 python3-venv, then run this again\n"
    )


def test_a_python_that_is_too_old_is_named(place):
    put(place, "python3", 'case "$*" in *--version*) echo Python 3.9.2;; *) exit 1;; esac')
    put(place, "apt-get", "exit 1")
    ended = set_up(place)
    assert ended.returncode == 1
    assert ended.stderr.splitlines()[-1] == (
        "!! Hornbook needs Python 3.11 or later; this machine has Python 3.9.2"
        if os.geteuid() == 0  # then Debian's were tried
        else "!! Hornbook needs Python 3.11 or later: as root, apt-get install python3 python3-venv, then run this again"
    )


def test_a_python_that_makes_no_virtual_environment_is_said_with_what_to_do(place):
    python_with(place, {"venv.py": "raise ImportError('No module named venv')"})
    ended = set_up(place)
    assert ended.returncode == 1
    assert ended.stderr == (
        "!! python3 cannot make a virtual environment: as root, apt-get install python3-venv, then run this again\n"
    )
    assert not (place / "app" / ".venv").exists()


def test_a_broken_environment_is_made_anew_and_one_that_cannot_be_made_is_said(place):
    broken = place / "app" / ".venv" / "bin" / "python"
    broken.parent.mkdir(parents=True)
    broken.write_text("junk", encoding="utf-8")
    broken.chmod(0o755)
    (broken.parent.parent / "left").touch()
    python_with(place, {"venv.py": "import sys\nif __name__ == '__main__': sys.exit('no space left')\n"})
    ended = set_up(place)
    assert ended.returncode == 1
    assert "== .venv no longer works" in ended.stdout
    assert ended.stderr.splitlines() == [
        "no space left",
        "!! .venv could not be made: see above; then run this again, it starts over",
    ]
