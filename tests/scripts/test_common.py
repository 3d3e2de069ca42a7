"""What the shell scripts refuse, each in one sentence that says what to do."""

import os
import socket
import subprocess
from contextlib import closing
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
pytestmark = pytest.mark.pure


def run(words, **more):
    surroundings = {"PATH": os.environ["PATH"], "HOME": os.environ.get("HOME", "/")} | more
    return subprocess.run(
        ["bash", "-c", f"set -euo pipefail; source scripts/common.sh; {words}"],
        cwd=ROOT, env=surroundings, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("port", "said"),
    [
        ("", "use a number"),
        ("80a", "use a number"),
        ("-1", "use a number"),
        ("800000", "use a number"),
        ("99999", "65535"),
    ],
)
def test_a_port_that_is_none_is_refused(port, said):
    ended = run(f"port={port!r} && port_is_free serve")
    assert ended.returncode == 1
    assert said in ended.stderr


def test_a_port_that_is_taken_is_refused_with_the_next():
    with closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        early = run(f"port={port}; port_is_free demo")
        late = run(f"port={port}; can_listen 127.0.0.1")
    assert early.stderr == f"!! port {port} is taken; try: make demo PORT={port + 1}\n"
    assert late.stderr.startswith(f"!! port {port} of 127.0.0.1 is taken")
    assert (early.returncode, late.returncode) == (1, 1)


@pytest.mark.parametrize("host", ["192.0.2.1", "no such name"])
def test_an_address_that_is_not_this_machines_is_refused(host):
    ended = run(f"port=8000; can_listen {host!r}")
    assert ended.returncode == 1
    assert "this machine has no such address" in ended.stderr
    assert ended.stderr.count("\n") == 1


def test_a_folder_for_data_that_cannot_be_made_is_said():
    ended = run("make_var", HORNBOOK_VAR_DIR="/proc/nowhere/data")
    assert ended.returncode == 1
    assert "may not write to /proc/nowhere/data" in ended.stderr
    assert "HORNBOOK_VAR_DIR" in ended.stderr


def test_a_folder_for_data_is_made_for_this_account_alone(tmp_path):
    assert run("umask 022; make_var", HORNBOOK_VAR_DIR=str(tmp_path / "data")).returncode == 0
    assert (tmp_path / "data").stat().st_mode & 0o777 == 0o700


def test_a_command_run_by_another_python_says_which_to_run(tmp_path):
    """As `python3 manage.py verify`, outside .venv."""
    ended = subprocess.run(
        ["python3", "-S", "manage.py", "verify"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ended.returncode == 1
    assert ended.stderr.count("\n") == 1
    assert "Run .venv/bin/python manage.py" in ended.stderr
