"""Load the demo district into an empty database, through the services."""

from __future__ import annotations

import random
import sys
from argparse import ArgumentParser
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.core.management.base import CommandError
from django.urls import reverse
from django.utils import timezone

from core.events import SALT_BYTES, salted_by
from core.management.writing import WritingCommand
from desk.demo.accounts import charge_families
from desk.demo.cast import PASSWORD, create_district
from desk.demo.counted import begin_count, examine_samples, keep_months_over, sign_summer_count
from desk.demo.delivery import import_delivery, inspect_delivery
from desk.demo.fleet import inspect_fleet, register_fleet
from desk.demo.gift import register_gift, start_jobs
from desk.demo.leavers import enter_one_twice, remove_from_fleet, transfer_between_schools
from desk.demo.money import add_shop_orders, add_shops_and_stock
from desk.demo.pitch import measure_pitch
from desk.demo.seats import add_assignment, add_seats
from desk.demo.stage import Stage, read_data
from desk.demo.unsettled import TOKEN, report_lost, send_link
from desk.demo.upkeep import add_comebacks, add_waiting_students, record_summer_care
from desk.demo.year import (
    SUMMER_JOBS,
    add_reports,
    count_short_accessories,
    lend_instruments,
    play_test_instruments,
    repair_instruments,
    return_all_loans,
)
from inventory.models import Instrument, School
from loans.models import SigningLink


class Command(WritingCommand):
    help = "Load the demo district into an empty database. The same seed and day give the same rows."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--today", type=date.fromisoformat, default=None, help="the day to load it for, YYYY-MM-DD")
        parser.add_argument("--share", type=float, default=1.0, help="share of the fleet and the students to load; 1")

    def handle(self, *args: Any, **options: Any) -> None:
        if School.objects.exists():
            raise CommandError("This database is not empty. Load the demo into one of its own.")
        stage = Stage(
            # The last acts are yesterday's, so none is in the future at whatever hour it is loaded.
            today=(options["today"] or timezone.localdate()) - timedelta(days=1),
            rng=random.Random(options["seed"]),  # noqa: S311  # repeatable, not secret
            share=options["share"],
        )
        salts = random.Random(options["seed"])  # noqa: S311  # repeatable, not secret
        with salted_by(lambda: f"{salts.getrandbits(8 * SALT_BYTES):032x}"):
            self.load(stage)
        self.print_log_ins(stage)
        sys.stdout.flush()

    def load(self, stage: Stage) -> None:
        gift: list[Instrument] = []
        steps: list[tuple[str, Callable[[], object]]] = [
            ("people and places", lambda: create_district(stage)),
            ("shops and stock", lambda: add_shops_and_stock(stage)),
            ("instruments", lambda: register_fleet(stage)),
            ("first inspections", lambda: inspect_fleet(stage)),
            ("pitch measured, first time", lambda: measure_pitch(stage, number=0)),
            ("last summer's repairs", lambda: repair_instruments(stage, days=-385, most=stage.some(SUMMER_JOBS))),
            ("last year's loans", lambda: lend_instruments(stage, days=-365, due_days=-150)),
            ("pitch measured in winter", lambda: measure_pitch(stage, number=1)),
            ("spring play tests", lambda: play_test_instruments(stage, days=-210)),
            ("pitch measured in spring", lambda: measure_pitch(stage, number=2)),
            ("everything returned", lambda: return_all_loans(stage, days=-160)),
            ("this summer's repairs", lambda: repair_instruments(stage, days=-140, most=stage.some(SUMMER_JOBS // 2))),
            ("summer care", lambda: record_summer_care(stage)),
            ("a count in summer", lambda: sign_summer_count(stage)),
            ("two repairs that did not hold", lambda: add_comebacks(stage)),
            ("pitch measured in summer", lambda: measure_pitch(stage, number=3)),
            ("sold, scrapped, traded in", lambda: remove_from_fleet(stage)),
            ("this year's loans", lambda: lend_instruments(stage, days=-75, due_days=190, late=6)),
            ("fees and damage", lambda: charge_families(stage)),
            ("pitch measured in fall", lambda: measure_pitch(stage, number=4)),
            ("problems reported", lambda: add_reports(stage)),
            ("accessories counted", lambda: count_short_accessories(stage)),
            ("pitch measured last week", lambda: measure_pitch(stage, number=5)),
            ("a donation from a loft", lambda: gift.extend(register_gift(stage))),
            ("jobs on the bench", lambda: start_jobs(stage, gift)),
            ("shop orders and parts", lambda: add_shop_orders(stage)),
            ("waiting students", lambda: add_waiting_students(stage)),
            ("ensembles and classes", lambda: add_seats(stage)),
            ("new instruments from the dealer's list", lambda: import_delivery(stage)),
            ("their first inspections", lambda: inspect_delivery(stage)),
            ("who gets which instrument", lambda: add_assignment(stage)),
            ("a link to sign", lambda: send_link(stage)),
            ("a lost instrument", lambda: report_lost(stage)),
            ("one entered twice", lambda: enter_one_twice(stage)),
            ("to another school", lambda: transfer_between_schools(stage)),
            ("a count under way", lambda: begin_count(stage)),
            ("samples", lambda: examine_samples(stage)),
            ("the months that are over", lambda: keep_months_over(stage)),
        ]
        for name, step in steps:
            self.stderr.write(f"  {name}")
            self.stderr.flush()
            step()

    def print_log_ins(self, stage: Stage) -> None:
        data = read_data("district")
        self.stdout.write(f"{Instrument.objects.count()} instruments in {len(stage.schools)} schools")
        self.stdout.write("Schools: " + ", ".join(f"{code} ({row.name})" for code, row in stage.schools.items()))
        if SigningLink.objects.exists():
            self.stdout.write(f"A guardian signs without a log-in at {reverse('desk:sign-by-link', args=[TOKEN])}")
        self.stdout.write(f"Log in with the password {PASSWORD} as:")
        for username in data["shown"]:
            self.stdout.write(f"  {username:<14} {data['people'][username]['name']}")
