"""What puts an instrument back together: nothing is tested, lent or left while it lies in a tray."""

from __future__ import annotations

from collections.abc import Iterable

from inventory.catalog.schema import Method
from repairs.rules.plan.case import Case
from repairs.rules.plan.choose import Chosen
from repairs.rules.plan.needs import Needed, direct_needs


def putting_back(case: Case, methods: Iterable[Method]) -> tuple[Needed, ...]:
    """Return what puts back together what these methods take apart, on this kind."""
    codes = dict.fromkeys(code for method in methods for code in method.put_back)
    return direct_needs(case, codes=codes, part="", place="")


def add_putting_back(case: Case, chosen: Chosen) -> None:
    """Add what puts back together whatever is taken apart in this plan, or lies apart from before."""
    planned = [needed.method for needed in chosen.methods.values()]
    for needed in (*putting_back(case, planned), *direct_needs(case, codes=sorted(case.owed), part="", place="")):
        chosen.add(needed)
