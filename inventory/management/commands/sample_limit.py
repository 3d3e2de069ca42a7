"""Print the upper limit of the rate in the fleet after what a sample found. No district settings, no database."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from inventory.management.arguments import read_decimal, read_whole, refuse
from inventory.rules.sampling import SamplingError, upper_limit


class Command(BaseCommand):
    help = "Print the highest rate of deviations in the fleet that a sample still allows."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--size", required=True, metavar="N", help="instruments examined")
        parser.add_argument("--deviations", required=True, metavar="X", help="deviations found among them")
        parser.add_argument("--confidence", required=True, metavar="C", help="such as 0.95")
        parser.add_argument("--population", metavar="N", help="instruments in the fleet: then hypergeometric")
        parser.add_argument("--json", action="store_true", dest="is_json", help="print JSON alone")

    def handle(
        self, *, size: str, deviations: str, confidence: str, population: str | None, is_json: bool, **options: Any
    ) -> None:
        try:
            limit = upper_limit(
                size=read_whole(size, name="--size"),
                deviations=read_whole(deviations, name="--deviations"),
                confidence=read_decimal(confidence, name="--confidence"),
                population=None if population is None else read_whole(population, name="--population"),
            )
        except SamplingError as error:
            refuse(str(error))
        if is_json:
            result = {"limit": f"{limit.rate.normalize():f}", "percent": float(limit.percent), "model": limit.model}
            self.stdout.write(json.dumps(result, indent=2))
        else:
            self.stdout.write(f"At most {limit.percent}% of the fleet ({limit.model})")
