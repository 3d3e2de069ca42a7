"""Print how many instruments to examine so that a sample speaks for the fleet. No district settings, no database."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from inventory.management.arguments import read_decimal, read_whole, refuse
from inventory.rules.sampling import SamplingError, plan_sample


class Command(BaseCommand):
    help = "Print the smallest sample that can tell the tolerable rate of deviations from the expected one."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--confidence", required=True, metavar="C", help="such as 0.95")
        parser.add_argument("--tolerable", required=True, metavar="RATE", help="rate not to be reached, such as 0.05")
        parser.add_argument("--expected", default="0", metavar="RATE", help="rate expected in the fleet; 0 if left out")
        parser.add_argument("--population", metavar="N", help="instruments in the fleet: then hypergeometric")
        parser.add_argument("--json", action="store_true", dest="is_json", help="print JSON alone")

    def handle(
        self, *, confidence: str, tolerable: str, expected: str, population: str | None, is_json: bool, **options: Any
    ) -> None:
        try:
            plan = plan_sample(
                confidence=read_decimal(confidence, name="--confidence"),
                tolerable=read_decimal(tolerable, name="--tolerable"),
                expected=read_decimal(expected, name="--expected"),
                population=None if population is None else read_whole(population, name="--population"),
            )
        except SamplingError as error:
            refuse(str(error))
        if is_json:
            result = {"size": plan.size, "allowed": plan.allowed, "model": plan.model}
            self.stdout.write(json.dumps(result, indent=2))
        else:
            self.stdout.write(f"Examine {plan.size}; allowed deviations: {plan.allowed} ({plan.model})")
