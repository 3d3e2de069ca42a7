"""The season's questions: what came back, which tool would have saved a bill, what is one step from unsafe."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.catalog.schema import Catalog, Effect, Method, Severity, Skill
from repairs.rules.facts import BenchFact
from repairs.rules.plan.case import is_flame

Spot = tuple[str, str, str, str]  # instrument, part, place, fault


@dataclass(frozen=True, slots=True)
class Repaired:
    """A fault that a job put right."""

    spot: Spot
    on: date
    method: str
    job: str


@dataclass(frozen=True, slots=True)
class CameBack:
    """The same fault at the same spot, found again within so many days of its repair."""

    repaired: Repaired
    again_on: date

    @property
    def days(self) -> int:
        return (self.again_on - self.repaired.on).days


def came_back(
    repaired: Iterable[Repaired], *, found: Iterable[tuple[Spot, date]], within_days: int
) -> tuple[CameBack, ...]:
    """Return the repairs that did not hold, the latest first; each counts once, with the first time it was seen again.

    A fault found on the very day of its repair counts as come back only if the repair was recorded first, which the
    caller sees to by leaving out what the job itself found.
    """
    seen: dict[Spot, list[date]] = defaultdict(list)
    for spot, day in found:
        seen[spot].append(day)
    result = []
    for one in repaired:
        again = [day for day in seen[one.spot] if 0 <= (day - one.on).days <= within_days]
        if again:
            result.append(CameBack(repaired=one, again_on=min(again)))
    return tuple(sorted(result, key=lambda one: (one.again_on, one.repaired.spot), reverse=True))


def only_tools_lack(method: Method, *, benches: Sequence[BenchFact]) -> frozenset[str] | None:
    """Return the fewest tools that would let one of the benches do it; none lacking is empty, None: tools do not help.

    Training, a permitted torch and permitted chemicals are no tools.
    """
    found: list[frozenset[str]] = []
    for bench in benches:
        is_trained = method.skill is Skill.BASIC or method.code in bench.methods
        needs_torch = is_flame(tags=method.tags, tools=method.tools, setup=method.setup)
        if (
            is_trained
            and (bench.has_torch or not needs_torch)
            and (bench.has_chemicals or "chemical" not in method.tags)
        ):
            found.append(frozenset(method.tools) - bench.tools)
    return min(found, key=lambda tools: (len(tools), sorted(tools)), default=None)


@dataclass(frozen=True, slots=True)
class Bill:
    """Work of one kind that went, or is to go, to a shop for want of tools, with the sums over all of it."""

    method: str
    tools: frozenset[str]
    amount: Decimal  # the shop's
    own_amount: Decimal  # bench time and parts here
    count: int = 1


@dataclass(frozen=True, slots=True)
class ToolCase:
    """What a set of tools would have saved."""

    tools: tuple[str, ...]
    price_amount: Decimal | None  # None where the catalog has no price
    bills: tuple[Bill, ...]

    @property
    def bills_amount(self) -> Decimal:
        return sum((bill.amount for bill in self.bills), Decimal(0))

    @property
    def saved_amount(self) -> Decimal:
        """The bills less the same work here; before the price of the tools."""
        return self.bills_amount - sum((bill.own_amount for bill in self.bills), Decimal(0))

    @property
    def left_amount(self) -> Decimal | None:
        """What is left when the tools are paid for; None where their price is not known."""
        return None if self.price_amount is None else self.saved_amount - self.price_amount


def tool_cases(bills: Iterable[Bill], *, catalog: Catalog) -> tuple[ToolCase, ...]:
    """Group bills by the tools that lacked, the largest saving first; those for which none lacked are a group too."""
    groups: dict[frozenset[str], list[Bill]] = defaultdict(list)
    for bill in bills:
        groups[bill.tools].append(bill)
    cases = []
    for tools, members in groups.items():
        prices = [catalog.tools[code].price if code in catalog.tools else None for code in sorted(tools)]
        known = [price for price in prices if price is not None]
        cases.append(
            ToolCase(
                tools=tuple(sorted(tools)),
                price_amount=sum(known, Decimal(0)) if len(known) == len(prices) else None,
                bills=tuple(members),
            )
        )
    return tuple(sorted(cases, key=lambda case: (-case.saved_amount, case.tools)))


def steps_to_unsafe(*, fault: str, severity: Severity, role: str, catalog: Catalog) -> int | None:
    """Return 0 for a finding that is unsafe now, 1 if one degree worse would be, None otherwise.

    A severe fault at a part whose loss is unsafe (a slide lock, a frame) is one step from losing it.
    """
    known = catalog.faults.get(fault)
    if known is None:
        return None
    if Effect.UNSAFE in known.effects[severity]:
        return 0
    degrees = tuple(Severity)
    if severity.rank + 1 < len(degrees):
        return 1 if Effect.UNSAFE in known.effects[degrees[severity.rank + 1]] else None
    part = catalog.roles.get(role)
    return 1 if part is not None and part.missing is Effect.UNSAFE else None
