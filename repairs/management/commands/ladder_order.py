"""Print the cheapest order of the rungs in a file. It holds all that is counted with; no figure and no database."""

from __future__ import annotations

import json
import math
from argparse import ArgumentParser
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from core.translation import gettext as _
from inventory.management.arguments import read_json, refuse
from repairs.rules.ladder import MODEL, LadderError, LadderOrder, RungChoice, best_order

SHAPE = '{"rungs": [{"id": "…", "cost": 5, "p": 0.3, "after": ["…"]}]}'


class Command(BaseCommand):
    help = f"Print the cheapest order of the rungs in FILE, which holds {SHAPE}."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE")
        parser.add_argument("--json", action="store_true", dest="is_json", help="print JSON alone")

    def handle(self, *, file: str, is_json: bool, **options: Any) -> None:
        rungs = _read(Path(file))
        try:
            found = best_order(rungs)
        except LadderError as error:
            refuse(f"{file}: {error}")
        if is_json:
            self.stdout.write(json.dumps(_as_json(found), indent=2, ensure_ascii=False))
        else:
            self.stdout.write(f"{' → '.join(found.order)}: {found.expected_cost:.2f} on average ({_(MODEL)})")


def _as_json(found: LadderOrder) -> dict[str, object]:
    return {
        "order": list(found.order),
        "expected_cost": found.expected_cost,
        "model": MODEL,
        "exact": True,  # an order that cannot be proved cheapest is refused
    }


def _read(path: Path) -> list[RungChoice]:
    content = read_json(path)
    rungs = content.get("rungs") if isinstance(content, dict) else None
    if not isinstance(rungs, list):
        refuse(f"{path}: expected {SHAPE}")
    return [_rung(rung, number=number) for number, rung in enumerate(rungs, start=1)]


def _rung(raw: object, *, number: int) -> RungChoice:
    if not isinstance(raw, dict):
        refuse(f"rung {number}: expected an object with id, cost and p")
    unknown = sorted(set(raw) - {"id", "cost", "p", "after"})
    if unknown:
        refuse(f"rung {number}: {', '.join(unknown)} is not known; a rung has id, cost, p and after")
    name = raw.get("id")
    if not isinstance(name, str) or not name:
        refuse(f"rung {number}: id must be a text")
    cost = _number(raw, key="cost", name=name)
    p = _number(raw, key="p", name=name)
    if cost < 0:
        refuse(f"rung {name!r}: cost {cost:g} is below 0")
    if not 0 < p <= 1:
        refuse(f"rung {name!r}: p {p:g} is not above 0 and at most 1")
    after = raw.get("after", [])
    if not isinstance(after, list) or not all(isinstance(one, str) for one in after):
        refuse(f"rung {name!r}: after must be a list of ids")
    return RungChoice(id=name, cost=cost, p=p, after=tuple(after))


def _number(raw: Mapping[str, object], *, key: str, name: str) -> float:
    value = raw.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        refuse(f"rung {name!r}: {key} must be a number")
    try:
        number = float(value)
    except OverflowError:
        refuse(f"rung {name!r}: {key} is too large")
    if not math.isfinite(number):
        refuse(f"rung {name!r}: {key} must be a finite number")
    return number
