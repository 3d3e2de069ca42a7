"""Recompute stored state and compare."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from core.archives import check_archive
from core.archives.keys import public_from
from core.events import head_of_log, lost_head
from core.exceptions import ArchiveError
from core.management.scoped import ScopedCommand
from desk.selectors.verifying import differences
from inventory.selectors.figures import is_recompute_due
from loans.selectors.papers import paper_differences

PENDING = (
    "refresh pending: the district's figures changed, and stored verdicts, readiness and days of care are still to"
    " follow; they were not compared. The background worker does it, or refresh_state --commit."
)


class Command(ScopedCommand):
    help = (
        "Recompute every instrument's verdict, readiness and whereabouts, check the event chain, compare rows and "
        "files with it, and name papers that are due. Exits 1 on any difference. With --archive it checks an archive of "
        "a year instead, and needs no database."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="print the differences as JSON")
        only = parser.add_mutually_exclusive_group()
        only.add_argument(
            "--head",
            action="store_true",
            help="print only the end of the event log, as COUNT HASH, to be kept on paper",
        )
        only.add_argument(
            "--head-was", metavar='"COUNT HASH"', help="check also that this head, printed earlier, is still in the log"
        )
        only.add_argument(
            "--archive",
            type=Path,
            metavar="FILE",
            help="check only this archive: exit 1 names each file that differs, exit 2 where it cannot be read",
        )
        parser.add_argument(
            "--public-key",
            metavar="KEY",
            help="with --archive: the public key that was printed, or a file that holds it",
        )

    def execute(self, *args: Any, **options: Any) -> str | None:
        if options["archive"] is not None:  # what the district has set is not asked for: there may be no database
            return BaseCommand.execute(self, *args, **options)
        return super().execute(*args, **options)

    def check_archive(self, path: Path, *, public_key: str, as_json: bool) -> None:
        try:
            checked = check_archive(path, pinned=public_from(public_key) if public_key else "")
        except ArchiveError as error:
            raise CommandError(str(error), returncode=2) from None
        files, entries = len(checked.manifest["files"]), checked.manifest["chain"]["count"]
        if as_json:
            summary = {"files": files, "entries": entries, "public_key": checked.public_key}
            self.stdout.write(json.dumps(summary | {"differences": checked.differences}, indent=2))
        else:
            for line in checked.differences:
                self.stdout.write(line)
            self.stdout.write(f"{files} files with {entries} entries checked, {len(checked.differences)} differences")
            self.stdout.write(f"signed with the key {checked.public_key}")
            if not public_key:
                self.stdout.write("Compare it with the key that was printed, or give that with --public-key.")
        if checked.differences:
            raise CommandError(f"{len(checked.differences)} differences", returncode=1)

    def handle(self, *args: Any, **options: Any) -> None:
        if options["archive"] is not None:
            given = {"public_key": options["public_key"] or "", "as_json": options["json"]}
            self.check_archive(options["archive"], **given)
            return
        if options["public_key"]:
            raise CommandError("--public-key goes with --archive.", returncode=2)
        if options["head"]:
            self.stdout.write(str(head_of_log()))
            return
        now = timezone.now()
        is_pending = is_recompute_due(at=now)
        count, found = differences(is_computed=not is_pending)
        waits, wrong = paper_differences(now=now)
        if is_pending:
            waits = [PENDING, *waits]
        found += wrong
        if options["head_was"] and (lost := lost_head(options["head_was"])):
            found.append(lost)
        if options["json"]:
            self.stdout.write(json.dumps({"instruments": count, "differences": found, "waiting": waits}, indent=2))
        else:
            for line in (*waits, *found):
                self.stdout.write(line)
            self.stdout.write(f"{count} instruments checked, {len(found)} differences")
        if found:
            raise CommandError(f"{len(found)} differences", returncode=1)
