"""How gunicorn serves Hornbook: two processes with threads, a log line for what goes wrong, a greeting at the start."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
from django.conf import settings  # after the two lines that say where they are

from config.database import SQLITE

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
# Which database answers, without its password: a command that names another one works on another one.
_entry = settings.DATABASES["default"]
_place = "" if _entry["ENGINE"] == SQLITE else f" at {_entry['HOST'] or 'this machine'}"
database = f"{_entry['NAME']}{_place}"
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108  # a heartbeat file, not data


def when_ready(server: Any) -> None:
    """Say where, and to whom the demo opens."""
    greeting = os.environ.get("GREETING_FILE", "")
    if greeting:
        print(Path(greeting).read_text(encoding="utf-8"))
    print(f"The database is {database}")
    print(f"Hornbook answers at {os.environ.get('SERVED_ADDRESS', server.address)}  (stop with Ctrl-C)")
    sys.stdout.flush()
