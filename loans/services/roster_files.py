"""The file of a roster while its sender looks at it: nobody else's, and not for long.

It may name every child of a district. It lies under a name that nobody guesses, no row names it, so no backup takes it,
and it goes when the import is done or given up, at the latest a day later.
"""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import IO, Any

from django.core.files.base import File
from django.core.files.storage import default_storage

from loans.exceptions import RosterRefusedError
from loans.rules.roster import UnreadableError, ZipSource

FOLDER = "rosters"
KEPT_FOR = timedelta(days=1)


def keep_file(file: File[bytes]) -> str:
    """Store a file that was sent and return its name."""
    return default_storage.save(f"{FOLDER}/{uuid.uuid4().hex}", file)


def open_file(name: str) -> IO[Any]:
    return default_storage.open(name)


def is_kept(name: str) -> bool:
    return name.startswith(f"{FOLDER}/") and default_storage.exists(name)


def forget_file(name: str) -> None:
    if name.startswith(f"{FOLDER}/"):
        default_storage.delete(name)


def forget_files(*, at: datetime) -> int:
    """Delete the files that nobody went on with for a day, and return how many."""
    if not default_storage.exists(FOLDER):
        return 0
    names = [f"{FOLDER}/{name}" for name in default_storage.listdir(FOLDER)[1]]
    old = [name for name in names if default_storage.get_modified_time(name) < at - KEPT_FOR]
    for name in old:
        default_storage.delete(name)
    return len(old)


def holds_roster(file: IO[bytes]) -> bool:
    """Whether it is a zip file with files of a roster in it, rather than a spreadsheet."""
    head = file.read(4)
    file.seek(0)
    if head != b"PK\x03\x04":
        return False
    try:
        names = ZipSource(file).names  # not closed: the file is still to be kept
    except UnreadableError as error:
        raise RosterRefusedError(str(error)) from error
    file.seek(0)
    return bool(names)
