"""When each step of the nightly run was last tried, and when it last went well: a file, so that it outlives a database."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass
from datetime import datetime

from django.conf import settings


@dataclass(frozen=True, slots=True)
class Run:
    tried_at: datetime
    done_at: datetime | None  # when it last went well

    @property
    def is_done(self) -> bool:
        return self.tried_at == self.done_at


def note_run(step: str, *, is_done: bool, at: datetime) -> None:
    """Note that a step was tried. Others keep what was noted of them."""
    runs = last_runs()
    before = runs[step].done_at if step in runs else None
    runs[step] = Run(tried_at=at, done_at=at if is_done else before)
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
            )
            for name, run in runs.items()
        }
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return {}
