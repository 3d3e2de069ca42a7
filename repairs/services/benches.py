"""A bench's profile: its tools, and what may be done there."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import School
from inventory.services.checking import check_row, save_columns
from repairs.models import WORDS_OF_ADDRESSES, Bench, Job, StockItem

SHOWN = 5  # names in a refusal


@service(once="nonce")
def set_up_bench(
    *,
    code: str,
    school: School,
    tools: Sequence[str],
    methods: Sequence[str],
    actor: User,
    at: datetime,
    is_new: bool = False,
    nonce: UUID | None = None,
    **columns: Any,
) -> Bench:
    """Add a bench or change the one with this code; plans of its open jobs follow the next time they are made.

    One that must be new (``is_new``) is refused where the code is taken.

    ``columns`` are name, has_torch, has_chemicals and rate_amount; without the last, the bench goes by the
    district's rate.
    """
    trade = catalog()
    unknown = sorted(set(tools) - set(trade.tools))
    if unknown:
        raise RefusedError(gettext("Not in the catalog of tools: %(codes)s.") % {"codes": ", ".join(unknown)})
    bench = Bench.objects.select_for_update(no_key=True).filter(code=code).first()
    if bench is not None and is_new:
        raise RefusedError(gettext("Another bench already has this short name."))
    if bench is not None and bench.school_id != school.pk:
        raise RefusedError(gettext("Another school already has a bench called %(code)s.") % {"code": code})
    if bench is None and code in WORDS_OF_ADDRESSES:
        raise RefusedError(
            gettext("Hornbook's own addresses use “%(code)s”. Choose another short name.") % {"code": code}
        )
    before = {} if bench is None else _allowed(bench)
    columns |= {"name": columns["name"].strip(), "tools": sorted(tools), "methods": sorted(methods)}
    if bench is None:
        bench = Bench(code=code, school=school, **columns)
        check_row(bench, validate_constraints=False)
        bench.save(force_insert=True)
    else:
        save_columns(bench, **columns)
    after = _allowed(bench) | {"tools": len(bench.tools)}
    record_event(act="bench_set_up", subject=bench, tenant=school.pk, before=before, after=after)
    return bench


@service
def retire_bench(*, bench: Bench, actor: User, at: datetime) -> Bench:
    """Stop working at a bench: nothing offers it now, its history stays, and so do the items that it kept.

    Refused while a job is open there or anything is in stock; the refusal names them.
    """
    fresh = lock_row(bench)
    if fresh.retired_at is not None:
        return fresh
    jobs = list(
        Job.objects.open().filter(bench=fresh).order_by("pk").values_list("instrument__asset_number", flat=True)
    )
    save_columns(fresh, retired_at=at, retired_by=actor)  # before the drawers are locked; taken back if it is refused
    kept = StockItem.objects.select_for_update(no_key=True).filter(bench=fresh).in_use().order_by("pk")
    left = [str(item) for item in kept if item.quantity]
    words = []
    if jobs:
        words.append(gettext("First finish or end the jobs on %(names)s.") % {"names": _some(jobs)})
    if left:
        words.append(gettext("First count to 0 or move what is in stock: %(names)s.") % {"names": _some(left)})
    if words:
        raise RefusedError(" ".join(words))
    kept.update(retired_at=at, retired_by=actor)
    record_event(act="bench_retired", subject=fresh, tenant=fresh.school_id)
    return fresh


@service
def bring_back_bench(*, bench: Bench, actor: User, at: datetime) -> Bench:
    """Work at a retired bench again, with the items that it kept until then."""
    fresh = lock_row(bench)
    if fresh.retired_at is None:
        return fresh
    went_with_it = StockItem.objects.filter(bench=fresh, retired_at=fresh.retired_at)
    save_columns(fresh, retired_at=None, retired_by=None)
    went_with_it.update(retired_at=None, retired_by=None)
    record_event(act="bench_brought_back", subject=fresh, tenant=fresh.school_id)
    return fresh


def _some(names: Sequence[str]) -> str:
    """Return the first few names, and how many more there are."""
    first, more = ", ".join(names[:SHOWN]), len(names) - SHOWN
    return first if more <= 0 else gettext("%(names)s and %(more)d more") % {"names": first, "more": more}


def _allowed(bench: Bench) -> dict[str, Any]:
    return {"torch": bench.has_torch, "chemicals": bench.has_chemicals, "rate": bench.rate_amount}
