"""Runs a server and, beside it, the worker; with HORNBOOK_METRICS_PORT set also what answers for metrics.

One of these that ends is started again. When the server ends, all have ended.

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

BESIDE = ["work"] if os.environ.get("HORNBOOK_METRICS_PORT", "0") in {"", "0"} else ["work", "metrics"]
LOOKS_EVERY_S, FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.2, 1.0, 30.0
LASTS_S = 60.0  # a worker that ran this long did not end because of how it starts
GRACE_S = 20.0
PR_SET_PDEATHSIG = 1


def end_with_parent() -> None:
    """In the child: be told to stop when this program is killed, where the system can do that (Linux)."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


def start(command: list[str]) -> subprocess.Popen[bytes]:
    # A group of its own: Ctrl-C reaches this program alone, which stops all in order.
    return subprocess.Popen(command, preexec_fn=end_with_parent, process_group=0)  # noqa: PLW1509  # no threads here


def stop(child: subprocess.Popen[bytes]) -> None:
    if child.poll() is None:
        child.terminate()
        try:
            child.wait(GRACE_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


class Beside:
    """A command of ours that runs as long as the server does."""

    def __init__(self, name: str) -> None:
        self.name, self.pause = name, FIRST_PAUSE_S
        self.begin()

    def begin(self) -> None:
        self.child = start([sys.executable, "manage.py", self.name])
        self.started, self.again_at = time.monotonic(), 0.0

    def look(self) -> None:
        """Start it again when it has ended, the later the sooner it ends."""
        now = time.monotonic()
        if self.child.poll() is not None and not self.again_at:
            self.pause = FIRST_PAUSE_S if now - self.started > LASTS_S else min(self.pause * 2, LONGEST_PAUSE_S)
            self.again_at = now + self.pause
            print(
                f"!! {self.name} ended ({self.child.returncode}); it starts again in {self.pause:.0f} s",
                file=sys.stderr,
            )
        elif self.again_at and now >= self.again_at:
            self.begin()


def main(command: list[str]) -> int:
    signals: list[int] = []

    def stopping(number: int, _frame: FrameType | None) -> None:
        signals.append(number)

    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, stopping)
    server, beside = start(command), [Beside(name) for name in BESIDE]
    while not signals and server.poll() is None:
        for one in beside:
            one.look()
        time.sleep(LOOKS_EVERY_S)
    stop(server)
    for one in beside:
        stop(one.child)
    return 0 if signals else server.returncode


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    os.environ.setdefault("PYTHONUNBUFFERED", "1")
    sys.exit(main(sys.argv[1:]))
