"""``manage.py make_archive_key``: the key that signs archives of years."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from core.archives import make_key
from core.exceptions import ArchiveError


class Command(BaseCommand):
    help = (
        "Make the key that signs archives, in a file of this account alone, and print its public half. The file stands "
        "outside the database and is in no backup: keep a copy of it elsewhere. Exits 2 if there is one already."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--out", type=Path, metavar="FILE", help="another file than the one that Hornbook reads")

    def handle(self, *args: Any, **options: Any) -> None:
        path = options["out"] or settings.ARCHIVE_KEY_FILE
        try:
            printed = make_key(path)
        except ArchiveError as error:
            raise CommandError(str(error), returncode=2) from None
        self.stdout.write(f"{path}\npublic key: {printed}")
