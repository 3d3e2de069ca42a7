"""Backups: database and files in one file, checked when it is made and before it is put back."""

from core.backups.archive import (
    Manifest,
    Unpacked,
    check_backup,
    check_written,
    placed_files,
    unpack,
    write_backup,
)
from core.backups.database import load_database, place_problem, take_snapshot
from core.backups.sealing import Lock, Opener
