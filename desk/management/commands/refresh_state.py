"""Bring stored verdicts and readiness up to date after the rules changed."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from inventory.models import Instrument
from inventory.selectors.state import difference_words, stored_differences
from inventory.services.refreshing import refresh_all_states
from repairs.selectors.care import care_differences
from repairs.services.care import keep_care_dates

AT_ONCE = 500  # instruments


class Command(BaseCommand):
    help = (
        "Recompute the stored verdict, readiness and days of care of every instrument after an upgrade or a change of the catalog. "
        "Lists what would change; with --commit, writes the changes and one event that says why."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--commit", action="store_true", help="write the changes; without it, only list them")
        parser.add_argument(
            "--because", default="The rules or the catalog changed.", help="the reason to record in the event"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["commit"]:
            count = refresh_all_states(because=options["because"], actor=None, at=timezone.now())
            self.stdout.write(f"{count} instruments refreshed.")
            overdue = sorted({pk for pk, _ in care_differences()})
            for start in range(0, len(overdue), AT_ONCE):
                keep_care_dates(overdue[start : start + AT_ONCE])
            self.stdout.write(f"{len(overdue)} with other days of care.")
            return
        count = 0
        for instrument, wrong in stored_differences(Instrument.objects.all()):
            count += bool(wrong)
            for line in difference_words(instrument, wrong):
                self.stdout.write(line)
        for _, words in care_differences():
            self.stdout.write(words)
        self.stdout.write(f"{count} instruments would change. Nothing was written; use --commit to write.")
