"""How gunicorn serves Hornbook: two processes with threads, one log line for what goes wrong, a greeting when it answers."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any
from urllib.parse import unquote

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
from django.conf import settings  # after the two lines that say where they are

workers = 2
threads = 4
preload_app = True
timeout = 120
graceful_timeout = 10
loglevel = "error"
# The server's own lines look like all others.
logconfig_dict = {**settings.LOGGING, "loggers": {"gunicorn.error": {"propagate": True, "level": "ERROR"}}}
if settings.METRICS_PORT:
    # Read by prometheus_client when the application first imports it: each process counts in a file there. What
    # another run left would be added.
    os.environ["PROMETHEUS_MULTIPROC_DIR"] = str(settings.METRICS_DIR)
    settings.METRICS_DIR.mkdir(mode=0o700, exist_ok=True)
    for left in settings.METRICS_DIR.glob("*.db"):
        left.unlink()
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108  # a heartbeat file, not data


def database_in_words() -> str:
    """Which database answers, without its password: a command that names another one works on another one."""
    found = settings.DATABASES["default"]
    return (
        unquote(found["NAME"].removeprefix("file:").removesuffix("?mode=rw"))  # see core.outages
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
