"""The server and its worker: a worker that dies comes back, and nothing is left running."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

PROGRAM = Path(__file__).resolve().parents[2] / "scripts" / "with_worker.py"
SAYS = "import os, sys, time; open(f'{name}.' + str(os.getpid()), 'w').close(); time.sleep({lasts}); sys.exit({code})"


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def wait_for(what: Callable[[], bool]) -> None:
    end = time.monotonic() + 30
    while not what():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.05)


@pytest.fixture
def started(tmp_path):
    """Start it over a stand-in for each: the worker is what this folder calls manage.py."""
    programs = []

    def start(lasts: float = 60, code: int = 0) -> subprocess.Popen[str]:
        (tmp_path / "manage.py").write_text(SAYS.replace("{name}", "worker").format(lasts=60, code=0))
        server = [sys.executable, "-c", SAYS.replace("{name}", "server").format(lasts=lasts, code=code)]
        program = subprocess.Popen(
            [sys.executable, str(PROGRAM), *server], cwd=tmp_path, stderr=subprocess.PIPE, text=True
        )
        programs.append(program)
        wait_for(lambda: len(pids(tmp_path, "worker")) == 1)
        return program

    yield start
    for program in programs:
        program.kill()
        program.communicate()


def pids(folder: Path, name: str) -> list[int]:
    return [int(path.suffix[1:]) for path in folder.glob(f"{name}.*")]


def test_a_worker_that_is_killed_comes_back(started, tmp_path):
    started()
    (first,) = pids(tmp_path, "worker")
    os.kill(first, signal.SIGKILL)
    wait_for(lambda: len(pids(tmp_path, "worker")) == 2)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_told_to_stop_it_stops_both(started, tmp_path, number):
    program = started()
    wait_for(lambda: bool(pids(tmp_path, "server")))
    program.send_signal(number)
    assert program.wait(30) == 0
    assert not any(map(alive, pids(tmp_path, "worker") + pids(tmp_path, "server")))


def test_it_ends_as_the_server_ends_and_takes_the_worker_along(started, tmp_path):
    assert started(lasts=1, code=3).wait(30) == 3
    assert not any(map(alive, pids(tmp_path, "worker")))


@pytest.mark.skipif(sys.platform != "linux", reason="asks Linux to tell the children")
def test_killed_itself_it_leaves_neither_running(started, tmp_path):
    program = started()
    wait_for(lambda: bool(pids(tmp_path, "server")))
    program.kill()
    wait_for(lambda: not any(map(alive, pids(tmp_path, "worker") + pids(tmp_path, "server"))))
