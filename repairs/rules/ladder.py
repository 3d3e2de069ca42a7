"""The cheapest order in which to try remedies for one stuck part."""

from __future__ import annotations

import heapq
import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from graphlib import CycleError, TopologicalSorter
from typing import NamedTuple

from core.translation import gettext as _
from core.translation import gettext_noop

MODEL = gettext_noop("independent remedies, stop at first success")
MOST_STATES = 2**15  # sets of tried rungs that the search goes through: any order of 15 rungs fits
TOLERANCE = 1e-12
TOO_MANY = gettext_noop("%(count)s rungs are too many to order: at most 15, or separate chains of any length")


class LadderError(ValueError):
    """The rungs do not describe a ladder, or one too long to order; the sentence says which and why."""


@dataclass(frozen=True, slots=True)
class RungChoice:
    """One remedy: what a try costs, the chance that it works, and the rungs that must be tried before it.

    ``set_up`` is what else it needs, by name, and what that costs: the first rung that needs it pays for it.
    """

    id: str
    cost: float
    p: float
    after: tuple[str, ...] = ()
    set_up: tuple[tuple[str, float], ...] = ()

    def cost_after(self, paid: Collection[str]) -> float:
        """Return what a try costs where this set-up has been paid for."""
        return self.cost + sum(more for name, more in self.set_up if name not in paid)

    def paid_with(self, paid: frozenset[str]) -> frozenset[str]:
        """Return the set-up that has been paid for after a try."""
        return paid.union(name for name, _ in self.set_up)


class LadderOrder(NamedTuple):
    """The cheapest order, and what it costs on average by MODEL."""

    order: tuple[str, ...]
    expected_cost: float


def expected_cost(rungs: Sequence[RungChoice]) -> float:
    """Return the mean cost of trying these rungs in this order, stopping at the first success.

    Model: independent remedies. Each p is the chance that its rung works given that the ones before it failed, taken
    as unchanged by the order: sum of c_i times the product of (1 - p_j) over earlier j.
    """
    total, reached, paid = 0.0, 1.0, frozenset[str]()
    for rung in rungs:
        total += reached * rung.cost_after(paid)
        paid = rung.paid_with(paid)
        reached *= 1.0 - rung.p
    return total


def worth_trying(
    rungs: Sequence[RungChoice], *, to_come: float, wanted: Collection[str] = ()
) -> tuple[tuple[str, ...], Mapping[str, tuple[float, float]]]:
    """Return which rungs of an order are worth a try, and for each of the others its cost and what follows without it.

    ``to_come`` is what it costs when all of them have failed: the shop. Seen from the end, a try is worth it while its
    cost is at most its chance times the cost of what comes after; ``wanted`` rungs are kept whatever they cost. Set-up
    that several need is paid for once, so what one alone is not worth, all of them together may be.
    """

    @cache
    def follows(place: int, paid: frozenset[str]) -> float:
        """Return what it costs from a place on, with this set-up done."""
        if place == len(rungs):
            return to_come
        return tried(place, paid) if is_kept(place, paid) else follows(place + 1, paid)

    def tried(place: int, paid: frozenset[str]) -> float:
        rung = rungs[place]
        return rung.cost_after(paid) + (1.0 - rung.p) * follows(place + 1, rung.paid_with(paid))

    def is_kept(place: int, paid: frozenset[str]) -> bool:
        return rungs[place].id in wanted or tried(place, paid) <= follows(place + 1, paid)

    kept: list[str] = []
    dropped: dict[str, tuple[float, float]] = {}
    paid: frozenset[str] = frozenset()
    for place, rung in enumerate(rungs):
        if is_kept(place, paid):
            kept.append(rung.id)
            paid = rung.paid_with(paid)
        else:
            dropped[rung.id] = rung.cost_after(paid), follows(place + 1, paid)
    return tuple(kept), dropped


def best_order(rungs: Sequence[RungChoice]) -> LadderOrder:
    """Return the order with the least expected cost among those that keep every ``after``. Always exact.

    Model: independent remedies, stop at first success. Without precedence the answer is increasing cost / p; over
    separate chains of any length it is the prefix of least ratio E[cost of the block] / (1 - prod(1 - p)), taken again
    and again (Garey 1973, Simon and Kadane 1975). Any other precedence, and any set-up, is searched over the sets of
    rungs that may have been tried (Held and Karp 1962). Ties keep the order given.
    Raises LadderError for a repeated or unknown id, a cycle, a negative or infinite cost, p outside 0 to 1, or
    more than 32,768 such sets to search, which takes more than 15 rungs.
    """
    before = _predecessors(rungs)
    chains = None if any(rung.set_up for rung in rungs) else _chains(before)
    places = _search(rungs, before) if chains is None else _merge(rungs, chains)
    ordered = [rungs[place] for place in places]
    return LadderOrder(order=tuple(rung.id for rung in ordered), expected_cost=expected_cost(ordered))


def _predecessors(rungs: Sequence[RungChoice]) -> list[set[int]]:
    """Return for each rung the places of all that must be tried before it, directly or not."""
    places: dict[str, int] = {}
    for place, rung in enumerate(rungs):
        if rung.id in places:
            raise LadderError(_("rung %(rung)r is given twice", rung=rung.id))
        if not math.isfinite(rung.cost) or rung.cost < 0:
            raise LadderError(_("rung %(rung)r: cost %(cost)s is not a number from 0 up", rung=rung.id, cost=rung.cost))
        if not 0 <= rung.p <= 1:
            raise LadderError(_("rung %(rung)r: p %(p)s is not between 0 and 1", rung=rung.id, p=rung.p))
        places[rung.id] = place
    for rung in rungs:
        for earlier in rung.after:
            if earlier not in places:
                words = _(
                    "rung %(rung)r comes after %(earlier)r, which is not a rung here", rung=rung.id, earlier=earlier
                )
                raise LadderError(words)
    before: list[set[int]] = [set() for _ in rungs]
    try:
        for name in TopologicalSorter({rung.id: rung.after for rung in rungs}).static_order():
            direct = {places[earlier] for earlier in rungs[places[name]].after}
            before[places[name]] = direct.union(*(before[place] for place in direct))
    except CycleError as error:
        names = ", ".join(repr(name) for name in error.args[1][1:])
        raise LadderError(_("these rungs wait for each other in a circle: %(names)s", names=names)) from error
    return before


def _chains(before: Sequence[set[int]]) -> list[list[int]] | None:
    """Return the rungs as separate chains, or None if the precedence is anything else."""
    follower: dict[int, int] = {}
    for place, earlier in enumerate(before):
        if earlier:
            last = max(earlier, key=lambda one: len(before[one]))
            if last in follower or len(before[last]) + 1 < len(earlier):
                return None
            follower[last] = place
    chains = [[place] for place, earlier in enumerate(before) if not earlier]
    for chain in chains:
        while chain[-1] in follower:
            chain.append(follower[chain[-1]])
    return chains


def _blocks(rungs: Sequence[RungChoice], chain: list[int]) -> Iterator[tuple[float, int, list[int]]]:
    """Cut a chain into its prefixes of least ratio, the shortest on a tie: (ratio, first place, places)."""
    while chain:
        cost, failed = 0.0, 1.0
        least, stop = math.inf, len(chain)
        for length, place in enumerate(chain, start=1):
            cost += failed * rungs[place].cost
            failed *= 1.0 - rungs[place].p
            if failed < 1.0 and cost / (1.0 - failed) < least - TOLERANCE:
                least, stop = cost / (1.0 - failed), length
        yield least, chain[0], chain[:stop]
        chain = chain[stop:]


def _merge(rungs: Sequence[RungChoice], chains: Sequence[list[int]]) -> list[int]:
    blocks = heapq.merge(*(_blocks(rungs, chain) for chain in chains))
    return [place for _, _, block in blocks for place in block]


def _search(rungs: Sequence[RungChoice], before: Sequence[set[int]]) -> list[int]:
    """Return the best order by dynamic programming over the sets of tried rungs, as bit masks.

    What it costs to go on after a set of failures does not depend on how that set was reached, so one value per set
    is enough: V(S) = min over the rungs i that may follow of c_i + (1 - p_i) V(S with i). Nor does what set-up has been
    paid for: c_i holds the set-up that no rung of S needs.
    """
    options = [
        (1 << place, sum(1 << earlier for earlier in before[place]), rung, 1.0 - rung.p)
        for place, rung in enumerate(rungs)
    ]
    value = {(1 << len(rungs)) - 1: 0.0}
    choice: dict[int, int] = {}

    def go_on(tried: int) -> float:
        if tried in value:
            return value[tried]
        least = math.inf
        paid = {name for bit, _, rung, _ in options if bit & tried for name, _ in rung.set_up}
        for place, (bit, needed, rung, fails) in enumerate(options):
            if not tried & bit and needed & tried == needed:
                total = rung.cost_after(paid) + fails * go_on(tried | bit)
                if least == math.inf or total < least - TOLERANCE * max(1.0, least):
                    least, choice[tried] = total, place
        if len(value) == MOST_STATES:
            raise LadderError(_(TOO_MANY, count=len(rungs)))
        value[tried] = least
        return least

    try:
        go_on(0)
    except RecursionError as error:
        raise LadderError(_(TOO_MANY, count=len(rungs))) from error
    order: list[int] = []
    tried = 0
    while tried in choice:
        order.append(choice[tried])
        tried |= 1 << choice[tried]
    return order
