"""Load the invented district, through the services, into an empty database."""

from __future__ import annotations

import random
import sys
from argparse import ArgumentParser
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from core.management.writing import WritingCommand
from desk.demo.cast import PASSWORD, raise_the_curtain
from desk.demo.delivery import look_at_the_delivery, take_the_delivery
from desk.demo.fleet import inspect_fleet, register_fleet
from desk.demo.gift import fill_the_bench, take_the_gift
from desk.demo.money import spend_money, stock_the_benches
from desk.demo.pitch import watch_some
from desk.demo.stage import Stage, read
from desk.demo.upkeep import come_back, let_some_wait, look_after_the_fleet
from desk.demo.year import SUMMER_JOBS, lend_out, repair_some, reports_and_counts, take_back_all, test_some
from inventory.models import Instrument, School


class Command(WritingCommand):
    help = "Load the demo district: the same seed and day give the same rows. Refuses a database that is not empty."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument(
            "--today", type=date.fromisoformat, default=None, help="the day it will be looked at, YYYY-MM-DD"
        )
        parser.add_argument(
            "--share", type=float, default=1.0, help="of the fleet and the students, for a quick look; 1"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if School.objects.exists():
            raise CommandError("This database is not empty; the demo goes into one of its own.")
        stage = Stage(
            # The last acts are yesterday's: at whatever hour it is loaded, none lies in the future.
            today=(options["today"] or timezone.localdate()) - timedelta(days=1),
            rng=random.Random(options["seed"]),  # noqa: S311  # drawn to be drawn again, not to keep a secret
            share=options["share"],
        )
        gift: list[Instrument] = []
        acts: list[tuple[str, Callable[[], object]]] = [
            ("people and places", lambda: raise_the_curtain(stage)),
            ("shops and stock", lambda: stock_the_benches(stage)),
            ("instruments", lambda: register_fleet(stage)),
            ("first inspections", lambda: inspect_fleet(stage)),
            ("horns measured, first time", lambda: watch_some(stage, number=0)),
            ("last summer's repairs", lambda: repair_some(stage, days=-385, most=stage.some(SUMMER_JOBS))),
            ("last year's loans", lambda: lend_out(stage, days=-365, due_days=-150)),
            ("horns measured in winter", lambda: watch_some(stage, number=1)),
            ("spring play tests", lambda: test_some(stage, days=-210)),
            ("horns measured in spring", lambda: watch_some(stage, number=2)),
            ("everything comes back", lambda: take_back_all(stage, days=-160)),
            ("this summer's repairs", lambda: repair_some(stage, days=-140, most=stage.some(SUMMER_JOBS // 2))),
            ("a summer of care", lambda: look_after_the_fleet(stage)),
            ("two repairs that did not hold", lambda: come_back(stage)),
            ("horns measured in summer", lambda: watch_some(stage, number=3)),
            ("this year's loans", lambda: lend_out(stage, days=-75, due_days=190, late=6)),
            ("horns measured in fall", lambda: watch_some(stage, number=4)),
            ("reports and counts", lambda: reports_and_counts(stage)),
            ("horns measured last week", lambda: watch_some(stage, number=5)),
            ("a gift from a loft", lambda: gift.extend(take_the_gift(stage))),
            ("work on the bench", lambda: fill_the_bench(stage, gift)),
            ("shops, parts and money", lambda: spend_money(stage)),
            ("students who wait", lambda: let_some_wait(stage)),
            ("new horns, by the dealer's list", lambda: take_the_delivery(stage)),
            ("first looks at them", lambda: look_at_the_delivery(stage)),
        ]
        for name, act in acts:
            self.stderr.write(f"  {name}")
            self.stderr.flush()
            act()
        self.say_who(stage)
        sys.stdout.flush()

    def say_who(self, stage: Stage) -> None:
        told = read("district")
        self.stdout.write(f"{Instrument.objects.count()} instruments in {len(stage.schools)} schools")
        self.stdout.write("Schools: " + ", ".join(f"{code} ({row.name})" for code, row in stage.schools.items()))
        self.stdout.write(f"Log in with the password {PASSWORD} as:")
        for username in told["shown"]:
            self.stdout.write(f"  {username:<14} {told['people'][username]['name']}")
