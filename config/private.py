"""Files with names, signatures and passwords in them are for the account of the service alone."""

from __future__ import annotations

import os
import pwd
import stat
import sys
from collections.abc import Iterable
from pathlib import Path

from config.env import SettingError

OTHERS = stat.S_IRWXG | stat.S_IRWXO
SIDE_FILES = ("", "-wal", "-shm", "-journal")  # what SQLite keeps beside a database


def keep_private(folders: Iterable[Path], databases: Iterable[str], *, must: bool) -> None:
    """Close the folders and database files to other accounts, and say so.

    What belongs to this account is mended. What does not stops the start where it ``must`` be private, and is said
    elsewhere. A folder that was open is searched once: what an older version left in it is closed too.
    """
    files = [Path(name + suffix) for name in databases for suffix in SIDE_FILES]
    for path in [*folders, *files]:
        try:
            found = path.stat()
        except FileNotFoundError:
            continue
        if os.geteuid() == 0 != found.st_uid:
            owner = owner_of(found)
            raise SettingError(
                f"{path} belongs to {owner}; run this as {owner}, not as root: runuser -u {owner} -- ..."
            )
        if not found.st_mode & OTHERS:
            continue
        if found.st_uid != os.geteuid() or found.st_mode & stat.S_ISVTX:
            refuse(
                f"{path} can be read by other accounts of this machine and is not this account's own to close",
                must=must,
            )
        else:
            close(path)
            say(f"{path} could be read by other accounts of this machine; it is closed to them now")


def close(path: Path) -> None:
    """Take the rights of others from the path, and from everything below it that is ours."""
    for folder, _, names in os.walk(path):
        for one in (Path(folder), *(Path(folder, name) for name in names)):
            found = one.lstat()
            if found.st_uid == os.geteuid() and not stat.S_ISLNK(found.st_mode):
                one.chmod(stat.S_IMODE(found.st_mode) & ~OTHERS)
    if path.is_file():
        path.chmod(stat.S_IMODE(path.stat().st_mode) & ~OTHERS)


def refuse(sentence: str, *, must: bool) -> None:
    if must:
        raise SettingError(f"{sentence}; give it a folder and files of its own")
    say(sentence)


def say(sentence: str) -> None:
    sys.stderr.write(f"!! {sentence}\n")


def owner_of(found: os.stat_result) -> str:
    try:
        return pwd.getpwuid(found.st_uid).pw_name
    except KeyError:
        return str(found.st_uid)
