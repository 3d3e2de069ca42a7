"""``manage.py backup PATH``: database and files in one file, while others work."""

from __future__ import annotations

import tempfile
from argparse import ArgumentParser
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.db import Error
from django.utils import timezone

from core.backups import Lock, Opener, check_backup, check_written, take_snapshot, write_backup
from core.erasures import noted_erasures
from core.exceptions import BackupError
from core.management.writing import WritingCommand
from core.progress import progress_to
from core.runs import BACKUP, note_begun, note_run
from loans.services.erased_again import note_forgotten


class Command(WritingCommand):
    help = (
        "Save database and files in one file that this account alone can read, and check it. It may run while others "
        "work. In a folder, the file is named after the moment. Exits 1 when files that rows name are not there, and 2 "
        "when no backup was made."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("path", type=Path, help="a file that is not there yet, or a folder")
        closed = parser.add_mutually_exclusive_group()
        closed.add_argument("--to", type=Path, metavar="FILE", help="encrypt to the public key (age1...) in this file")
        closed.add_argument("--passphrase", type=Path, metavar="FILE", help="encrypt with the passphrase in this file")

        parser.add_argument(
            "--key",
            type=Path,
            metavar="FILE",
            help="with --to: open it again with the key (AGE-SECRET-KEY-...) to check",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["key"] and not options["to"]:
            raise CommandError("--key checks what --to encrypts; name both.", returncode=2)
        try:
            lock = Lock.from_files(recipient=options["to"], passphrase=options["passphrase"])
            key = Opener.from_files(key=options["key"]) if options["key"] else None
            self.make(options["path"], lock, key)
        except BackupError as error:
            raise CommandError(str(error), returncode=2) from None

    def make(self, path: Path, lock: Lock, key: Opener | None) -> None:
        now = timezone.now()
        if path.is_dir():
            path /= f"hornbook-{timezone.localtime(now):%Y-%m-%d-%H%M%S}.tar{'.age' if lock.is_closed else ''}"
        if path.exists():
            raise BackupError(f"{path} is there already.")
        note_begun(BACKUP, at=now)
        try:
            self.write(path, lock, key, now=now)
        except (BackupError, Error, OSError):
            note_run(BACKUP, is_done=False, at=now)
            raise

    def write(self, path: Path, lock: Lock, key: Opener | None, *, now: datetime) -> None:
        note_forgotten()
        erasures = len(list(noted_erasures()))
        # Beside the database: a copy that is not encrypted goes nowhere that the database is not.
        with tempfile.TemporaryDirectory(prefix="backup-", dir=settings.VAR_DIR) as folder:
            snapshot = take_snapshot(Path(folder))
            with progress_to(self.show_files):
                manifest, written = write_backup(path, snapshot, lock=lock, erasures=erasures, at=now)
        check_written(path, written)
        if lock.recipient is None:
            check_backup(path, opener=Opener(passphrase=lock.passphrase))
        elif key is not None:
            check_backup(path, opener=key)
        note_run(BACKUP, is_done=not manifest.missing, at=now)
        count, head = manifest.head
        self.stdout.write(f"{path}: {manifest.holds}, event {count} {head[:12] or '(none)'}")
        if lock.recipient is not None and key is None:
            self.stdout.write("Read again as written; whether it opens, restore --check says where the key is.")
        if manifest.missing:
            for name in manifest.missing:
                self.stdout.write(f"not there: {name}")
            raise CommandError(f"The backup is made, but {len(manifest.missing)} files that rows name are not there.")

    def show_files(self, done: int, total: int, _phase: str) -> None:
        """Say on one line of a terminal how many files are in it; a log gets none of this."""
        if self.stdout.isatty():
            self.stdout.write(f"\r{done} of {total} files", ending="\n" if done == total else "")
            self.stdout.flush()
