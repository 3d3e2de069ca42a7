"""Explain one instrument, as JSON."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from core.management.scoped import ScopedCommand
from desk.pages.explaining import explanation
from inventory.models import Instrument


class Command(ScopedCommand):
    help = "Explain an instrument: verdict, whereabouts, readiness with reasons, findings, notes and the plan, as JSON."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("asset_number")

    def handle(self, *args: Any, **options: Any) -> None:
        number = options["asset_number"].strip().upper()
        instrument = Instrument.objects.for_table().filter(asset_number=number).first()
        if instrument is None:
            raise CommandError(f"There is no instrument {number}.", returncode=2)
        found = explanation(instrument, today=timezone.localdate())
        self.stdout.write(json.dumps(found, indent=2, ensure_ascii=False))
