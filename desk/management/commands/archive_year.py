"""``manage.py archive_year YEAR``: the signed archive of a fiscal year."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.utils import timezone

from core.exceptions import ArchiveError
from core.management.writing import WritingCommand
from desk.archives import archive_year
from desk.selectors.value import fiscal_year_begins
from inventory.catalog.load import catalog
from inventory.rules.depreciation import fiscal_year
from inventory.selectors.past import FIRST_DAY, LAST_DAY


class Command(WritingCommand):
    help = (
        "Make the signed archive of the fiscal year that begins in YEAR: the entries of the log, the register as it was "
        "known at the end, loans without students' names, and the hashes of signed papers. Exits 2 if refused."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("year", type=int, metavar="YEAR", help="2026 for the year that begins in July 2026")
        parser.add_argument("--out", type=Path, metavar="FILE", help="a file that is not there yet")
        parser.add_argument("--json", action="store_true", help="print what the log says of it as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        year = options["year"]
        if not FIRST_DAY.year <= year <= LAST_DAY.year:
            raise CommandError(f"A year from {FIRST_DAY.year} to {LAST_DAY.year}, please.", returncode=2)
        first, last = fiscal_year(date(year, 12, 31), begins=fiscal_year_begins(catalog()))
        try:
            details = archive_year(first=first, last=last, actor=None, at=timezone.now(), path=options["out"])
        except ArchiveError as error:
            raise CommandError(str(error), returncode=2) from None
        if options["json"]:
            self.stdout.write(json.dumps(details, indent=2))
            return
        path = options["out"] or settings.ARCHIVES_DIR / details["file"]
        self.stdout.write(f"{path}\n{details['events']} entries, from {first} to {last}\nSHA-256 {details['sha256']}")
        self.stdout.write(f"public key: {details['public_key']}")
