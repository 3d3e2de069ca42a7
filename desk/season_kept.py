"""The plan of a large season: the worker searches longer than a page could, and what it found is kept with its work.

Only the numbers of the search are kept. The page makes the plan from them and the season as it is now, where that is
still the season they were found for.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from datetime import date, datetime, timedelta
from decimal import Decimal
from hashlib import sha256
from typing import Any, Final

import numpy as np
from django.conf import settings

from core.models import LongWork, User
from desk.rules.season_plan import Season
from desk.rules.season_plan.solve import Solution, Stage

PLAN: Final = "desk.views.season_plan.plan_later"
HOLDS_FOR = timedelta(minutes=10)  # a season that changed since is not searched again before: it would never be shown


def mark_of(season: Season) -> str:
    """A hash of all that the search depends on."""
    text = json.dumps(asdict(season), default=_plain, sort_keys=True)
    return sha256(f"{settings.VERSION} {text}".encode()).hexdigest()


def _plain(value: Any) -> Any:
    """Written the same by every process: each walks through a set in its own order."""
    if isinstance(value, set | frozenset):
        return sorted(value)
    if isinstance(value, Decimal | date):
        return str(value)
    raise TypeError(type(value).__name__)


def keep_solution(*, work: LongWork, season: Season, solution: Solution) -> None:
    stages = [[one.reached, one.bound] for one in solution.seats]
    cost = solution.cost and [solution.cost.reached, solution.cost.bound]
    found = {"season": mark_of(season), "values": solution.values.tolist(), "seats": stages, "cost": cost}
    LongWork.objects.filter(pk=work.pk).update(arguments={**work.arguments, "found": found})


def found_before(*, user: User, asked: str) -> LongWork | None:
    """The latest search that ended for this person and question, while it is kept."""
    rows = LongWork.objects.visible_to(user).filter(function=PLAN, is_failed=False, arguments__asked=asked)
    return rows.exclude(finished_at=None).order_by("-finished_at").first()


def solution_for(season: Season, *, work: LongWork) -> Solution | None:
    """What was found, if it was for this very season."""
    found: Mapping[str, Any] = work.arguments.get("found", {})
    if found.get("season") != mark_of(season):
        return None
    seats = tuple(Stage(*stage) for stage in found["seats"])
    cost = Stage(*found["cost"]) if found["cost"] else None
    return Solution(np.array(found["values"], dtype=np.int64), seats, cost)


def is_due(work: LongWork | None, *, at: datetime) -> bool:
    """Whether to search again, where nothing that was found holds."""
    return work is None or work.finished_at is None or work.finished_at < at - HOLDS_FOR
