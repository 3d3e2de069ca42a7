"""What repairs and care left behind in a large district: faults put right and faults that came back, baths, bills, stock."""

from __future__ import annotations

import random
import uuid
from collections.abc import Iterator, Sequence
from datetime import timedelta
from decimal import Decimal

from django.utils import timezone

from inventory.catalog.load import catalog
from inventory.models import Finding, Inspection
from repairs.models import CareDone, Job, Shop, ShopOrder, StockItem, StockMove
from repairs.rules.care import intervals_for
from tests.bench.rows import Big, Draft, insert

CARED_FOR, BILLED, ASKED = 0.3, 0.01, 0.003  # shares of the instruments
CAME_BACK = 0.1  # of the faults put right
ON_A_SHELF = 8  # things in stock at each bench


def keep_up(big: Big, drafts: Sequence[Draft], *, generator: random.Random) -> None:
    put_right(drafts, generator=generator)
    insert(care(big, drafts, generator=generator))
    shops = insert(Shop(name=f"Shop {number}") for number in range(3))
    insert(bills(big, drafts, shops=shops, generator=generator))
    shelves(big, generator=generator)


def put_right(drafts: Sequence[Draft], *, generator: random.Random) -> None:
    """A fault of each closed job; some are seen again, at the same spot, in the walk that followed."""
    repaired = [draft for draft in drafts if draft.was_repaired and draft.pattern.findings]
    keys = [draft.row.pk for draft in repaired]
    jobs = {job.instrument_id: job for job in Job.objects.exclude(closed_at=None)}
    walks = {walk.instrument_id: walk for walk in Inspection.objects.filter(purpose="intake")}
    rows = []
    for draft, key in zip(repaired, keys, strict=True):
        fact, job = draft.pattern.findings[0], jobs[key]
        closed_at = job.closed_at
        if generator.random() < CAME_BACK:
            closed_at = draft.pattern.inspected_at - timedelta(days=20)
        rows.append(
            Finding(
                inspection=walks[key], instrument=draft.row, part=fact.part, place=fact.place, fault=fact.fault,
                severity=fact.severity.value, found_at=draft.row.registered_at + timedelta(hours=2),
                closed_at=closed_at, closed_because="repaired", closed_reference=f"job:{job.pk}",
            )
        )  # fmt: skip
    insert(rows)


def care(big: Big, drafts: Sequence[Draft], *, generator: random.Random) -> Iterator[CareDone]:
    today = timezone.localdate(big.now)
    for draft in drafts:
        if generator.random() < CARED_FOR:
            asked = intervals_for(kind=draft.pattern.kind, options=draft.row.options, catalog=catalog())
            if asked:
                yield CareDone(
                    instrument=draft.row, code=generator.choice(asked).code, recorded_at=big.now - timedelta(days=20),
                    done_on=today - timedelta(days=generator.randrange(20, 500)), actor=big.people["tech"],
                )  # fmt: skip


def bills(big: Big, drafts: Sequence[Draft], *, shops: Sequence[Shop], generator: random.Random) -> Iterator[ShopOrder]:
    tech, methods = big.people["tech"], [method.code for method in catalog().methods.values() if method.tools]
    for draft in drafts:
        chance = generator.random()
        if chance >= BILLED + ASKED:
            continue
        order = ShopOrder(
            shop=generator.choice(shops), instrument=draft.row, nonce=uuid.UUID(int=generator.getrandbits(128)),
            work=generator.choice(methods), question="Can you do this?", asked_at=big.now - timedelta(days=90),
            asked_by=tech,
        )  # fmt: skip
        if chance < BILLED:
            order.sent_at, order.returned_at = big.now - timedelta(days=80), big.now - timedelta(days=60)
            order.invoice_amount = Decimal(generator.randrange(40, 400))
        else:
            order.estimate_amount = Decimal(generator.randrange(100, 500))
        yield order


def shelves(big: Big, *, generator: random.Random) -> None:
    things = list(catalog().consumables.values())[:ON_A_SHELF]
    items = insert(
        StockItem(bench=bench, code=one.code, name=one.name, unit=one.unit, quantity=Decimal(10))
        for bench in big.benches.values()
        for one in things
    )
    insert(
        StockMove(
            item=item, why=StockMove.Why.RECEIVED, quantity=Decimal(10), after_quantity=Decimal(10), at=big.now,
            nonce=uuid.UUID(int=generator.getrandbits(128)), actor=big.people["tech"],
        )
        for item in items
    )  # fmt: skip
