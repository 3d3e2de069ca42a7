"""A bench's profile: its tools, and what may be done there."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from core.acts import service
from core.events import record_event
from core.models import User
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import School
from inventory.services.checking import check_row, save_columns
from repairs.models import WORDS_OF_ADDRESSES, Bench


@service
def set_up_bench(
    *,
    code: str,
    school: School,
    tools: Sequence[str],
    methods: Sequence[str],
    actor: User,
    at: datetime,
    **columns: Any,
) -> Bench:
    """Add a bench or change the one with this code; plans of its open jobs follow the next time they are made.

    ``columns`` are name, has_torch, has_chemicals and rate_amount.
    """
    trade = catalog()
    unknown = sorted(set(tools) - set(trade.tools))
    if unknown:
        raise RefusedError(gettext("Not in the catalog of tools: %(codes)s.") % {"codes": ", ".join(unknown)})
    bench = Bench.objects.select_for_update(no_key=True).filter(code=code).first()
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


def _allowed(bench: Bench) -> dict[str, Any]:
    return {"torch": bench.has_torch, "chemicals": bench.has_chemicals, "rate": bench.rate_amount}
