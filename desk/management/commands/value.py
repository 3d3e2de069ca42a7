"""``manage.py value --on DATE`` prints what the fleet is worth on a day, by school."""

from __future__ import annotations

import json
import re
from datetime import date
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone

from core.management.writing import WritingCommand
from core.money import dollars
from desk.selectors.value import FleetValue, Sums, fleet_value
from inventory.models import School
from inventory.selectors.past import FIRST_DAY, LAST_DAY, AsOf

AMOUNTS = ("acquisition", "book", "replacement", "condition_adjusted")


class Command(WritingCommand):
    help = (
        "Print what the instruments held at the end of a day are worth: what they cost, what is left of that on the books "
        "(straight line over the life of the kind, to the nearest full month), what others would cost, and what they are "
        "worth in the condition they were in. As the records stand now about that day, or with --as-known-on as they "
        "stood at the end of that other day. Writes nothing; the same day gives the same cents."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--on", required=True, metavar="DATE", help="the day, 2026-06-30")
        parser.add_argument("--as-known-on", metavar="DATE", help="count only what had been entered by the end of it")
        parser.add_argument("--json", action="store_true", dest="is_json", help="print JSON alone")

    def handle(self, *_args: Any, **options: Any) -> None:
        on = a_day(options["on"], name="--on")
        known_on = a_day(options["as_known_on"], name="--as-known-on") if options["as_known_on"] is not None else None
        if known_on is not None and known_on > timezone.localdate():
            raise CommandError("--as-known-on: that day is in the future.", returncode=2)
        fleet = fleet_value(AsOf(on=on, known_on=known_on))
        codes = dict(School.objects.order_by("code").values_list("pk", "code"))
        self.stdout.write(
            json.dumps(as_dict(fleet, codes=codes), indent=2) if options["is_json"] else as_text(fleet, codes=codes)
        )


def a_day(text: str, *, name: str) -> date:
    """Return the day that was typed; CommandError with what is accepted."""
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, flags=re.ASCII):
            raise ValueError(text)
        day = date.fromisoformat(text)
    except ValueError:
        raise CommandError(f"{name}: {text!r} is not a date. Write it as 2026-06-30.", returncode=2) from None
    if not FIRST_DAY <= day <= LAST_DAY:
        raise CommandError(f"{name}: {text} is not between {FIRST_DAY} and {LAST_DAY}.", returncode=2)
    return day


def as_dict(fleet: FleetValue, *, codes: dict[int, str]) -> dict[str, Any]:
    """The sums as plain values; amounts are texts with two places."""
    on, known_on = fleet.as_of.on, fleet.as_of.known_on
    return {
        "on": on.isoformat(),
        "as_known_on": known_on.isoformat() if known_on else None,
        **plain(fleet.total),
        "by_school": {code: plain(fleet.by_school[pk]) for pk, code in codes.items() if pk in fleet.by_school},
    }


def plain(sums: Sums) -> dict[str, Any]:
    amounts = {name: f"{getattr(sums, name):.2f}" for name in AMOUNTS}
    return {"instruments": sums.instruments, **amounts, "without_cost": sums.without_cost,
            "without_acquisition_date": sums.without_day, "replacement_by_kind": sums.by_kind_price,
            "not_inspected": sums.not_inspected}  # fmt: skip


def as_text(fleet: FleetValue, *, codes: dict[int, str]) -> str:
    lines = [
        ("all", fleet.total),
        *((code, fleet.by_school[pk]) for pk, code in codes.items() if pk in fleet.by_school),
    ]
    return "\n".join(
        f"{name}: {sums.instruments} instruments; "
        + ", ".join(f"{name.replace('_', ' ')} {dollars(getattr(sums, name))}" for name in AMOUNTS)
        for name, sums in lines
    )
