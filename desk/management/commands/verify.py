"""Recompute stored state and compare."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from desk.selectors.verifying import differences


class Command(BaseCommand):
    help = "Recompute every instrument's verdict, readiness and whereabouts and check the event chain. Exits 1 on any difference."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="print the differences as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        count, found = differences()
        if options["json"]:
            self.stdout.write(json.dumps({"instruments": count, "differences": found}, indent=2))
        else:
            for line in found:
                self.stdout.write(line)
            self.stdout.write(f"{count} instruments checked, {len(found)} differences")
        if found:
            raise CommandError(f"{len(found)} differences", returncode=1)
