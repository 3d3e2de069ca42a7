"""The list of erasures outside the database: what a restored backup must forget again. It holds ids, never a name.

One line for each, appended when the erasure is committed; kept beside the media folder, and never part of a backup.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings

# An act's moment is when it was asked for; it may be committed, and so be part of a backup or not, somewhat later.
MARGIN = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Erasure:
    """One row that was erased. ``details`` are ids and flags of whoever erases."""

    row: str  # "loans.student:12"
    at: datetime
    details: dict[str, Any]


def list_path() -> Path:
    """Return the list's place: HORNBOOK_ERASURES_FILE, or beside the media folder."""
    return Path(settings.ERASURES_FILE or f"{settings.MEDIA_ROOT}.erased")


def note_erasure(*, row: str, at: datetime, **details: Any) -> None:
    """Append one line, and return when it is on the disk. Call it on commit."""
    line = json.dumps({"row": row, "at": at.isoformat(), **details}) + "\n"
    handle = os.open(list_path(), os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    try:
        os.write(handle, line.encode())
        os.fsync(handle)
    finally:
        os.close(handle)


def noted_erasures(path: Path | None = None) -> Iterator[Erasure]:
    """Yield the list, oldest first; a line cut off by a full disk is passed over."""
    path = path or list_path()
    if not path.exists():
        return
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            fields = json.loads(line)
            yield Erasure(row=fields.pop("row"), at=datetime.fromisoformat(fields.pop("at")), details=fields)
        except (ValueError, TypeError, KeyError, AttributeError):
            continue


def erased_since(moment: datetime, listed: Iterable[Erasure]) -> dict[str, Erasure]:
    """Return what was erased after the moment, by row; of one erased twice, the later."""
    return {one.row: one for one in listed if one.at > moment - MARGIN}
