"""Prints the labels of a school from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone

from core.management.writing import WritingCommand
from core.qr import QrTextError
from inventory.exceptions import RefusedError
from inventory.management.commands.import_instruments import school_of
from inventory.models import Instrument
from inventory.pdf import print_labels, public_address
from inventory.rules.labels import SHEETS, LabelError
from inventory.selectors.labels import LabelChoice, instruments_for_labels, tags_for_labels, untagged
from inventory.services.labels import issue_missing_tags

REFUSED = 2


class Command(WritingCommand):
    help = (
        "Print QR labels of a school's instruments as PDF. Exit status 2 when they cannot be printed, with the reason."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--school", required=True, help="the school's code, as on the Schools page")
        parser.add_argument("--sheet", default=next(iter(SHEETS)), help=f"one of {', '.join(SHEETS)}")
        parser.add_argument("--out", required=True, type=Path, help="the PDF to write")
        parser.add_argument("--start", type=int, default=1, help="the first free position on the sheet, from 1")
        parser.add_argument("--kind", default="", help="only this kind, by its code")
        parser.add_argument("--unprinted", action="store_true", help="only tags never printed")

    def handle(self, *_args: Any, **options: Any) -> None:
        school = school_of(options["school"])
        if options["sheet"] not in SHEETS:
            known = "; ".join(f"{sheet.code} ({sheet.name})" for sheet in SHEETS.values())
            raise CommandError(f"There is no sheet {options['sheet']!r}. Known: {known}.", returncode=REFUSED)
        choice = LabelChoice(school=school.pk, kind=options["kind"], only_unprinted=options["unprinted"])
        try:
            pdf, count = self.printed(choice, sheet=options["sheet"], start=options["start"])
            options["out"].write_bytes(pdf)
        except (RefusedError, LabelError, QrTextError, OSError) as error:
            raise CommandError(str(error), returncode=REFUSED) from error
        self.stdout.write(f"{count} labels of {school.name} in {options['out']}")

    def printed(self, choice: LabelChoice, *, sheet: str, start: int) -> tuple[bytes, int]:
        """The public address comes first: without it no tag is issued either."""
        address, now = public_address(), timezone.now()
        SHEETS[sheet].corner(start)
        instruments = instruments_for_labels(Instrument.objects.all(), choice)
        issue_missing_tags(instruments=untagged(instruments, choice), actor=None, at=now)
        tags = list(tags_for_labels(instruments, choice))
        return print_labels(tags=tags, address=address, sheet=SHEETS[sheet], start=start, actor=None, at=now), len(tags)
