"""What a shop may be asked to do: every kind of work that the catalog knows for a kind, and the one for a finding.

A shop is asked for work that puts a fault right, priced by the catalog's fee or by its hourly rate and the catalog's
minutes; work that only watches a fault is no work for a shop unless there is no other.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import product

from inventory.catalog.names import methods_for
from inventory.catalog.schema import Catalog, Kind, Method, Severity
from inventory.rules.facts import FindingFact
from repairs.rules.plan import SentOut
from repairs.rules.plan.case import WATCHING
from repairs.rules.plan.choose import shop_fee


def works_of(catalog: Catalog, kind: Kind) -> frozenset[str]:
    """Return the codes of all work on this kind that a shop may do."""
    codes = {one.method for one in catalog.overhauls.values() if one.fits(kind)}
    pairs = {(part.role, fault) for part in kind.parts for fault in catalog.faults_at(part)}
    for (role, fault), severity in product(pairs, Severity):
        codes.update(methods_for(catalog=catalog, kind=kind, fault=fault, role=role, severity=severity))
    return frozenset(code for code in codes if not WATCHING.intersection(catalog.methods[code].tags))


def work_for(catalog: Catalog, kind: Kind, finding: FindingFact) -> Method | None:
    """Return the work to ask for: one that shops have a fee for before others, else the most thorough.

    Where the fault as it is would only be watched, what is done about a worse one. None for a part the kind has not.
    """
    role = next((part.role for part in kind.parts if part.code == finding.part), None)
    if role is None or finding.fault not in catalog.faults:
        return None
    watched: list[Method] = []
    for severity in (one for one in Severity if one.rank >= finding.severity.rank):
        codes = methods_for(catalog=catalog, kind=kind, fault=finding.fault, role=role, severity=severity)
        methods = [catalog.methods[code] for code in codes]
        done = [method for method in methods if not WATCHING.intersection(method.tags)]
        if done:
            return next((method for method in done if is_paid(catalog, method)), done[-1])
        watched += methods
    return watched[0] if watched else None


def is_paid(catalog: Catalog, method: Method) -> bool:
    """Whether shops have a fee for it, or for the last way to free a stuck part."""
    rungs = catalog.ladders[method.ladder].rungs if method.ladder else ()
    return method.fee is not None or any(rung.fee is not None for rung in rungs)


def asked_for(catalog: Catalog, kind: Kind, finding: FindingFact) -> SentOut:
    """Return a finding as work for a shop with its price, whatever the bench could do."""
    method = work_for(catalog, kind, finding)
    if method is None:
        return SentOut(finding, "", catalog.fault_name(finding.fault), "", Decimal(0), Decimal(0))
    rungs = catalog.ladders[method.ladder].rungs if method.ladder else ()
    fees = [rung.fee for rung in rungs if rung.fee is not None]
    low, high = fees[-1] if fees else shop_fee(catalog, method)
    return SentOut(finding, method.code, method.name, "", low, high, wait_h=method.wait_h, parts=method.parts)


def main_work(catalog: Catalog, works: Sequence[SentOut]) -> str:
    """Return the kind of work that an order for all this is counted as: the dearest that puts something right."""
    named = [one for one in works if one.method in catalog.methods]
    named.sort(key=lambda one: (is_watching(catalog, one), -one.fee_high_amount))
    return named[0].method if named else ""


def is_watching(catalog: Catalog, work: SentOut) -> bool:
    """Whether the work changes nothing: the finding is left and looked at again."""
    method = catalog.methods.get(work.method)
    return method is not None and bool(WATCHING.intersection(method.tags))
