"""Print after how many years of keeping an instrument costs least per year, from a file alone: no settings, no database."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from core.money import dollars
from inventory.management.arguments import read_decimal, read_json, refuse
from inventory.rules.economic_life import EconomicLife, EconomicLifeError, economic_life

SHAPE = '{"purchase": 7500, "rate": 0.08, "upkeep": [500, 1800], "salvage": [4000, 2500]}'
NEEDED, KNOWN = ("purchase", "rate", "upkeep"), ("purchase", "rate", "upkeep", "salvage")


class Command(BaseCommand):
    help = f"Print the economic life from FILE, such as {SHAPE}: upkeep and salvage by year of age, salvage may be left out."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE")
        parser.add_argument("--json", action="store_true", dest="is_json", help="print JSON alone")

    def handle(self, *, file: str, is_json: bool, **options: Any) -> None:
        content = _read(Path(file))
        try:
            found = economic_life(
                purchase=_amount(content["purchase"], name="purchase"),
                rate=_amount(content["rate"], name="rate"),
                upkeep=_amounts(content["upkeep"], name="upkeep"),
                salvage=_amounts(content["salvage"], name="salvage") if content.get("salvage") is not None else None,
            )
        except EconomicLifeError as error:
            refuse(f"{file}: {error}")
        if is_json:
            self.stdout.write(json.dumps(_as_json(found), indent=2))
        else:
            years = "year" if found.years == 1 else "years"
            self.stdout.write(f"{found.years} {years}: {dollars(found.annual_amount)} a year")


def _as_json(found: EconomicLife) -> dict[str, object]:
    return {
        "life": found.years,
        "annual_cost": f"{found.annual_amount:f}",
        "curve": [f"{amount:f}" for amount in found.curve],
    }


def _read(path: Path) -> dict[str, object]:
    content = read_json(path, parse_float=Decimal, parse_int=Decimal)
    if not isinstance(content, dict):
        refuse(f"{path}: expected an object such as {SHAPE}")
    if missing := [key for key in NEEDED if key not in content]:
        refuse(f"{path}: {', '.join(missing)} missing; expected {SHAPE}")
    if unknown := sorted(set(content) - set(KNOWN)):
        refuse(f"{path}: {', '.join(unknown)} is not known; expected {', '.join(KNOWN)}")
    return content


def _amounts(raw: object, *, name: str) -> list[Decimal]:
    if not isinstance(raw, list):
        refuse(f"{name} must be a list of numbers, one for each year of age")
    return [_amount(one, name=f"{name} of year {year}") for year, one in enumerate(raw, start=1)]


def _amount(raw: object, *, name: str) -> Decimal:
    """Return a number of the file as it was written, or in quotes as money often is."""
    if not isinstance(raw, Decimal | str):
        refuse(f"{name} must be a number")
    return read_decimal(str(raw), name=name)
