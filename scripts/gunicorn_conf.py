"""How gunicorn serves Hornbook: two processes with threads, one log line for what goes wrong, a greeting when it answers."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

workers = 2
threads = 4
preload_app = True
timeout = 120
graceful_timeout = 10
loglevel = "error"
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108  # a heartbeat file, not data


def database_in_words() -> str:
    """Which database answers, without its password: a command that names another one works on another one."""
    from django.conf import settings

    found = settings.DATABASES["default"]
    return (
        found["NAME"]
        if found["ENGINE"].endswith("sqlite3")
        else f"{found['NAME']} at {found['HOST'] or 'this machine'}"
    )


def when_ready(server: Any) -> None:
    """Say where, and to whom the demo opens."""
    greeting = os.environ.get("GREETING_FILE", "")
    if greeting:
        print(Path(greeting).read_text(encoding="utf-8"))
    print(f"The database is {database_in_words()}")
    print(f"Hornbook answers at {os.environ.get('SERVED_ADDRESS', server.address)}  (stop with Ctrl-C)")
    sys.stdout.flush()
