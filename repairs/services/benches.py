"""A bench's profile: what lies on it and what it is allowed to do."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from core.events import record_event
from core.models import User
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import School
from inventory.services.checking import check_row
from repairs.models import Bench


@transaction.atomic
def set_up_bench(
    *,
    code: str,
    school: School,
    name: str,
    tools: Sequence[str],
    methods: Sequence[str],
    has_torch: bool,
    has_chemicals: bool,
    rate_amount: Decimal,
    actor: User,
    at: datetime,
) -> Bench:
    """Add a bench or change the one with this code; plans of its open jobs follow from the next look on."""
    trade = catalog()
    unknown = sorted(set(tools) - set(trade.tools))
    if unknown:
        raise RefusedError(f"Not a tool of the catalog: {', '.join(unknown)}.")
    bench = Bench.objects.filter(code=code).first() or Bench(code=code, school=school)
    if bench.school_id != school.pk:
        raise RefusedError(f"There is a bench called {code} at another school.")
    before = {"torch": bench.has_torch, "chemicals": bench.has_chemicals, "rate": bench.rate_amount} if bench.pk else {}
    bench.name, bench.tools, bench.methods = name.strip(), sorted(tools), sorted(methods)
    bench.has_torch, bench.has_chemicals, bench.rate_amount = has_torch, has_chemicals, rate_amount
    check_row(bench, validate_constraints=False)
    bench.save()
    after = {"torch": has_torch, "chemicals": has_chemicals, "rate": rate_amount, "tools": len(bench.tools)}
    record_event(actor=actor, act="bench_set_up", subject=bench, at=at, tenant=school.pk, before=before, after=after)
    return bench
