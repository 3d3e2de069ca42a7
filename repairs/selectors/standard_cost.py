"""What it would cost to bring an instrument to playing condition, the same at every school and every time it is asked.

The bench is the usual one of a school at the district's rate; odds and times are the catalog's, not what benches have
learned since. So a value of a past day stays what it was, and schools can be compared.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from functools import lru_cache

from core.money import cents
from inventory.catalog.schema import Catalog
from inventory.rules.facts import FindingFact
from inventory.selectors.standing import standing_for
from repairs.profiles import usual_bench
from repairs.rules.facts import BenchFact
from repairs.rules.plan import plan_work
from repairs.selectors.planning import PROVING

MOST_KEPT = 50_000  # sets of findings
NOTHING = Decimal("0.00")


def standard_cost(
    kind_code: str, options: Mapping[str, str], findings: tuple[FindingFact, ...], *, trade: Catalog
) -> Decimal:
    """Return what four such repairs in five stay within (P80), bench and shop together. $0 where nothing needs fixing."""
    if not findings:
        return NOTHING
    return _cost(kind_code, tuple(sorted(options.items())), findings, trade)


@lru_cache(maxsize=MOST_KEPT)
def _cost(
    kind_code: str, options: tuple[tuple[str, str], ...], findings: tuple[FindingFact, ...], trade: Catalog
) -> Decimal:
    stands = standing_for(kind_code, dict(options), findings=findings, trade=trade)
    plan = plan_work(
        kind=stands.kind, catalog=trade, findings=stands.findings, bench=_bench(trade), effects=stands.effects
    )
    is_sound = not plan.send_out and all(step.method == PROVING for step in plan.steps)
    return NOTHING if is_sound else cents(plan.taken.total_cost.p80)


@lru_cache(maxsize=8)
def _bench(trade: Catalog) -> BenchFact:
    return usual_bench(catalog=trade)
