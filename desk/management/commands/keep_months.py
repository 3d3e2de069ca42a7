"""``manage.py keep_months`` keeps the condition of the fleet at the end of each month that is over."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.utils import timezone

from core.management.writing import WritingCommand
from desk.selectors.months import month_sums, months_to_keep
from inventory.services.months import keep_month


class Command(WritingCommand):
    help = (
        "Keep how many instruments each school had at the end of each month that is over, their cost to playing condition "
        "and their replacement cost, as known that day; the page on the condition of the fleet draws them. Run twice it "
        "adds nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--today", type=date.fromisoformat, metavar="YYYY-MM-DD", help="as if it were this day")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        today = options["today"] or timezone.localdate(now)
        kept = 0
        for ends_on in months_to_keep(today=today):
            kept += keep_month(ends_on=ends_on, sums=month_sums(ends_on), actor=None, at=now)
        self.stdout.write(f"{kept} kept.")
