"""When each step of the nightly run was last tried, and when it last went well: a file, so that it outlives a database."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from django.conf import settings

BACKUP: Final = "backup"
LONGEST: Final = timedelta(hours=6)  # of a step; after it, whatever ran is taken to have been killed


@dataclass(frozen=True, slots=True)
class Run:
    tried_at: datetime
    done_at: datetime | None  # when it last went well
    begun_at: datetime | None = None  # while it runs

    @property
    def is_done(self) -> bool:
        return self.tried_at == self.done_at

    def is_running(self, *, at: datetime) -> bool:
        return self.begun_at is not None and self.begun_at > at - LONGEST


def note_begun(step: str, *, at: datetime) -> None:
    """Note that a step begins; ``note_run`` notes its end."""
    before = last_runs().get(step)
    _keep(step, replace(before, begun_at=at) if before else Run(tried_at=at, done_at=None, begun_at=at))


def note_run(step: str, *, is_done: bool, at: datetime) -> None:
    """Note that a step was tried. Others keep what was noted of them."""
    before = last_runs().get(step)
    done_before = before.done_at if before else None
    _keep(step, Run(tried_at=at, done_at=at if is_done else done_before))


def _keep(step: str, run: Run) -> None:
    runs = last_runs() | {step: run}
    text = json.dumps({name: asdict(run) for name, run in runs.items()}, default=datetime.isoformat, indent=1)
    part = settings.RUNS_FILE.with_name(f"{settings.RUNS_FILE.name}.{os.getpid()}")
    with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as out:  # noqa: PTH123  # its mode
        out.write(text)
    part.replace(settings.RUNS_FILE)


def last_runs() -> dict[str, Run]:
    """Return what was noted, by step; nothing where there is no file yet or it is damaged."""
    try:
        runs = json.loads(settings.RUNS_FILE.read_text(encoding="utf-8"))
        return {
            name: Run(
                tried_at=datetime.fromisoformat(run["tried_at"]),
                done_at=datetime.fromisoformat(run["done_at"]) if run["done_at"] else None,
                begun_at=datetime.fromisoformat(run["begun_at"]) if run.get("begun_at") else None,
            )
            for name, run in runs.items()
        }
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return {}
