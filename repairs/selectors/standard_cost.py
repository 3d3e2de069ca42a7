"""What it would cost to bring an instrument to playing condition, the same at every school and every time it is asked.

The bench is the usual one of a school at the district's rate; odds and times are the catalog's, not what benches have
learned since. So a value of a past day stays what it was, and schools can be compared.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple

from core.money import cents
from inventory.catalog.schema import Catalog
from inventory.rules.facts import FindingFact
from inventory.selectors.standing import standing_for
from repairs.profiles import usual_bench
from repairs.rules.facts import BenchFact
from repairs.rules.plan import plan_work
from repairs.selectors.planning import PROVING

MOST_KEPT = 50_000  # sets of findings


class Work(NamedTuple):
    """What four such repairs in five stay within (P80)."""

    amount: Decimal  # bench and shop together
    minutes: float  # attended, at the bench


NOTHING = Work(Decimal("0.00"), 0.0)


def standard_work(
    kind_code: str, options: Mapping[str, str], findings: tuple[FindingFact, ...], *, trade: Catalog
) -> Work:
    """Return what it takes to playing condition; nothing where nothing needs fixing."""
    if not findings:
        return NOTHING
    return _work(kind_code, tuple(sorted(options.items())), findings, trade)


def standard_cost(
    kind_code: str, options: Mapping[str, str], findings: tuple[FindingFact, ...], *, trade: Catalog
) -> Decimal:
    """Return the money alone."""
    return standard_work(kind_code, options, findings, trade=trade).amount


@lru_cache(maxsize=MOST_KEPT)
def _work(
    kind_code: str, options: tuple[tuple[str, str], ...], findings: tuple[FindingFact, ...], trade: Catalog
) -> Work:
    stands = standing_for(kind_code, dict(options), findings=findings, trade=trade)
    plan = plan_work(
        kind=stands.kind, catalog=trade, findings=stands.findings, bench=_bench(trade), effects=stands.effects
    )
    if not plan.send_out and all(step.method == PROVING for step in plan.steps):
        return NOTHING
    return Work(cents(plan.taken.total_cost.p80), plan.taken.attended_minutes.p80)


@lru_cache(maxsize=8)
def _bench(trade: Catalog) -> BenchFact:
    return usual_bench(catalog=trade)
