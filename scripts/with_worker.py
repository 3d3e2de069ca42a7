"""Runs a server and, beside it, the worker; a worker that ends is started again. When the server ends, both have ended.

``with_worker.py COMMAND...``: the server. Exit code: the server's.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import subprocess
import sys
import time
from types import FrameType

WORKER = [sys.executable, "manage.py", "work"]
LOOKS_EVERY_S, FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.2, 1.0, 30.0
LASTS_S = 60.0  # a worker that ran this long did not end because of how it starts
GRACE_S = 20.0
PR_SET_PDEATHSIG = 1


def end_with_parent() -> None:
    """In the child: be told to stop when this program is killed, where the system can do that (Linux)."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


def start(command: list[str]) -> subprocess.Popen[bytes]:
    # A group of its own: Ctrl-C reaches this program alone, which stops both in order.
    return subprocess.Popen(command, preexec_fn=end_with_parent, process_group=0)  # noqa: PLW1509  # no threads here


def stop(child: subprocess.Popen[bytes]) -> None:
    if child.poll() is None:
        child.terminate()
        try:
            child.wait(GRACE_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


def main(command: list[str]) -> int:
    told: list[int] = []

    def stopping(number: int, _frame: FrameType | None) -> None:
        told.append(number)

    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, stopping)
    server, worker = start(command), start(WORKER)
    started, pause, again_at = time.monotonic(), FIRST_PAUSE_S, 0.0
    while not told and server.poll() is None:
        now = time.monotonic()
        if worker.poll() is not None and not again_at:
            pause = FIRST_PAUSE_S if now - started > LASTS_S else min(pause * 2, LONGEST_PAUSE_S)
            again_at = now + pause
            print(f"!! the worker ended ({worker.returncode}); it starts again in {pause:.0f} s", file=sys.stderr)
        elif again_at and now >= again_at:
            worker, started, again_at = start(WORKER), now, 0.0
        time.sleep(LOOKS_EVERY_S)
    stop(server)
    stop(worker)
    return 0 if told else server.returncode


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    os.environ.setdefault("PYTHONUNBUFFERED", "1")
    sys.exit(main(sys.argv[1:]))
