"""Recompute stored state and compare."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from core.events import head_of_log, lost_head
from core.management.scoped import ScopedCommand
from desk.selectors.verifying import differences
from inventory.selectors.figures import waits_for_reckoning
from loans.selectors.papers import paper_differences

PENDING = (
    "refresh pending: the district's figures changed, and stored verdicts, readiness and days of care are still to"
    " follow; they were not compared. The background worker does it, or refresh_state --commit."
)


class Command(ScopedCommand):
    help = (
        "Recompute every instrument's verdict, readiness and whereabouts, check the event chain, compare rows and "
        "files with it, and name papers that are due. Exits 1 on any difference."
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

    def handle(self, *args: Any, **options: Any) -> None:
        if options["head"]:
            self.stdout.write(str(head_of_log()))
            return
        now = timezone.now()
        is_pending = waits_for_reckoning(at=now)
        count, found = differences(is_reckoned=not is_pending)
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
