"""``manage.py nightly`` runs everything that is due each night, one step after another, even when one fails."""

from __future__ import annotations

import re
from argparse import ArgumentParser
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import Error
from django.utils import timezone

from core.exceptions import RefusedError
from core.management.writing import WritingCommand
from core.runs import note_run

STEPS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("send_notices", {}),
    ("delete_old_papers", {"commit": True}),
    ("forget_leavers", {"commit": True, "if_set": True}),
    ("forget_lists", {}),
    ("forget_rosters", {}),
    ("forget_forms", {}),
    ("forget_tries", {}),
    ("clearsessions", {}),
    ("keep_months", {}),
    ("verify", {}),
)
BACKUP = re.compile(r"hornbook-(\d{4}-\d\d-\d\d)-\d{6}\.tar(?:\.age)?")


class Command(WritingCommand):
    help = (
        "Delete what is past its time, verify, and with --backup save everything. A step that fails is reported and does "
        "not keep the others from running; exit 1 then."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--backup", type=Path, metavar="FOLDER", help="where the backup goes")
        parser.add_argument(
            "--to", type=Path, metavar="FILE", help="encrypt it to the public key (age1...) in this file"
        )
        parser.add_argument("--keep", type=int, metavar="DAYS", help="delete older backups there, once today's is made")

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path | None = options["backup"]
        failed = [name for name, given in STEPS if not self.done(name, **given)]
        if folder:
            if not folder.is_dir():
                self.stderr.write(f"{folder} is not a folder, so there is no backup.")
                self.note("backup", is_done=False)
                failed.append("backup")
            elif not self.done("backup", str(folder), to=options["to"]):
                failed.append("backup")
            elif options["keep"] is not None:
                self.delete_old(folder, before=timezone.localdate() - timedelta(days=max(options["keep"], 1)))
        self.note("nightly", is_done=not failed)
        if failed:
            raise CommandError(f"Failed: {', '.join(failed)}", returncode=1)

    def done(self, name: str, *args: str, **options: Any) -> bool:
        self.stdout.write(f"== {name}")
        is_done = True
        try:
            call_command(name, *args, **options, stdout=self.stdout, stderr=self.stderr)
        except (CommandError, Error, OSError, RefusedError) as error:
            self.stderr.write(f"{name}: {error}")
            is_done = False
        self.note(name, is_done=is_done)
        return is_done

    def note(self, step: str, *, is_done: bool) -> None:
        """Keep for the metrics how it went; a disk that is full keeps no step from running."""
        try:
            note_run(step, is_done=is_done, at=timezone.now())
        except OSError as error:
            self.stderr.write(f"{step}: how it went could not be noted: {error}")

    def delete_old(self, folder: Path, *, before: date) -> None:
        """Delete backups of ours, by their names; whatever else lies there stays."""
        for path in sorted(folder.iterdir()):
            made = BACKUP.fullmatch(path.name)
            if made and date.fromisoformat(made[1]) < before:
                path.unlink()
                self.stdout.write(f"deleted {path}")
