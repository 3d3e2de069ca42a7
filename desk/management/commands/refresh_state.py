"""Bring stored verdicts, readiness and days of care up to date after the rules changed."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.utils import timezone

from core.management.scoped import ScopedCommand
from desk.selectors.verifying import difference_words
from desk.services.recomputing import recompute_all
from inventory.models import Instrument
from inventory.selectors.state import stored_differences
from repairs.selectors.care import care_differences
from repairs.selectors.donors import taken_differences
from repairs.services.donors import call_taken_parts_missing


class Command(ScopedCommand):
    help = (
        "Recompute the stored verdict, readiness and days of care of every instrument after an upgrade or a change of "
        "the catalog. Lists what would change; with --commit, writes the changes and events that say why."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--commit", action="store_true", help="write the changes; without it, only list them")
        parser.add_argument(
            "--because", default="The rules or the catalog changed.", help="the reason to record in the event"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["commit"]:
            now, because = timezone.now(), options["because"]
            if count := call_taken_parts_missing(actor=None, at=now):
                self.stdout.write(f"{count} parts taken for others now count as missing where they came from.")
            states, care = recompute_all(because=because, actor=None, at=now)
            self.stdout.write(f"{states} instruments refreshed.")
            self.stdout.write(f"{care} with other days of care.")
            return
        changed: set[int] = set()
        for instrument, wrong in stored_differences(Instrument.objects.all()):
            if wrong:
                changed.add(instrument.pk)
            for line in difference_words(instrument, wrong):
                self.stdout.write(line)
        for pk, words in (*taken_differences(), *care_differences()):
            changed.add(pk)
            self.stdout.write(words)
        self.stdout.write(f"{len(changed)} instruments would change. Nothing was written; use --commit to write.")
