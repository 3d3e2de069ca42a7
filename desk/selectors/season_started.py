"""What somebody started of a season plan in one act: jobs, the parts they lack, shop orders, purchase requests."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from core.models import User
from inventory.models import PurchaseRequest
from repairs.models import Bench, Job, ShopOrder
from repairs.selectors.stock import MOST_JOBS, shopping_for


@dataclass(frozen=True, slots=True)
class StartedSeason:
    """``to_buy`` counts by bench what the shopping list has for these jobs."""

    jobs: tuple[Job, ...]
    requests: tuple[PurchaseRequest, ...]
    to_buy: dict[Bench, int]
    orders: tuple[ShopOrder, ...] = ()


def started_at(at: datetime, *, by: User, now: datetime) -> StartedSeason:
    """Return what this person started at that moment. Seven queries for each bench beside four."""
    jobs = tuple(Job.objects.visible_to(by).filter(opened_at=at, opened_by=by).for_table())
    requests = PurchaseRequest.objects.visible_to(by).filter(asked_at=at, asked_by=by)
    numbers = {job.instrument.asset_number for job in jobs}
    to_buy = {}
    for bench in dict.fromkeys(job.bench for job in jobs):
        lines = shopping_for(bench, jobs=MOST_JOBS, at=now).list.lines
        to_buy[bench] = sum(not numbers.isdisjoint(line.jobs) for line in lines)
    orders = ShopOrder.objects.visible_to(by).filter(asked_at=at, asked_by=by)
    return StartedSeason(jobs, tuple(requests.for_table()), to_buy, tuple(orders.for_table()))
