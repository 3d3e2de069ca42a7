"""The cheapest order in which to try remedies for one stuck part."""

from __future__ import annotations

import heapq
import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

MODEL = "independent remedies, stop at first success"
MAX_STATES = 4096  # sets of tried rungs kept by the exact search: every order of up to 12 rungs fits
TOLERANCE = 1e-12


class LadderError(ValueError):
    """The rungs do not describe a ladder; the sentence says which one and why."""


@dataclass(frozen=True, slots=True)
class RungChoice:
    """One remedy: what a try costs, the chance that it works, and the rungs that must be tried before it."""

    id: str
    cost: float
    p: float
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LadderOrder:
    """An order, what it costs on average, the model behind that figure, and whether no order is cheaper."""

    order: tuple[str, ...]
    expected_cost: float
    model: str
    exact: bool


@dataclass(frozen=True, slots=True)
class _Graph:
    """Rungs by index, with direct predecessors as bit masks closed under transitivity."""

    rungs: tuple[RungChoice, ...]
    before: tuple[int, ...]

    def available(self, *, tried: int) -> Iterator[int]:
        for index, needed in enumerate(self.before):
            if not tried >> index & 1 and needed & ~tried == 0:
                yield index


def expected_cost(rungs: Sequence[RungChoice]) -> float:
    """Return the mean cost of trying these rungs in this order, stopping at the first success.

    Model: independent remedies. Each p is the chance that its rung works given that the ones before it failed, taken
    as unchanged by the order: sum of c_i times the product of (1 - p_j) over earlier j.
    """
    total, reached = 0.0, 1.0
    for rung in rungs:
        total += reached * rung.cost
        reached *= 1.0 - rung.p
    return total


def worth_trying(
    rungs: Sequence[RungChoice], *, to_come: float, wanted: Collection[str] = ()
) -> tuple[tuple[str, ...], Mapping[str, float]]:
    """Return which rungs of an order are worth a try, and for each of the others what would follow without it.

    ``to_come`` is what it costs when all of them have failed: the shop. Seen from the end, a try is worth it while its
    cost is at most its chance times the cost of what comes after; ``wanted`` rungs are kept whatever they cost.
    """
    kept: list[str] = []
    dropped: dict[str, float] = {}
    for rung in reversed(rungs):
        with_it = rung.cost + (1.0 - rung.p) * to_come
        if with_it > to_come and rung.id not in wanted:
            dropped[rung.id] = to_come
        else:
            kept.append(rung.id)
            to_come = with_it
    return tuple(reversed(kept)), dropped


def best_order(rungs: Sequence[RungChoice]) -> LadderOrder:
    """Return the order with the least expected cost among those that keep every ``after``.

    Model: independent remedies, stop at first success. Without precedence this is increasing cost / p; over chains it
    is the prefix of least ratio E[cost of the block] / (1 - prod(1 - p)), taken again and again (Garey 1973, Simon and
    Kadane 1975); any other order is searched exactly over the sets of rungs that may have been tried, and above
    4,096 such sets by least-ratio blocks with ``exact`` false. Ties keep the order given. Raises LadderError for
    a repeated or unknown id, a cycle, a negative or infinite cost, or p outside 0 to 1.
    """
    graph = _graph(rungs)
    chains = _chains(graph)
    if chains is not None:
        order, exact = _merge_chains(graph, chains), True
    else:
        found = _search(graph)
        order, exact = (found, True) if found is not None else (_by_blocks(graph), False)
    ordered = [graph.rungs[index] for index in order]
    return LadderOrder(
        order=tuple(rung.id for rung in ordered), expected_cost=expected_cost(ordered), model=MODEL, exact=exact
    )


def _graph(rungs: Sequence[RungChoice]) -> _Graph:
    places: dict[str, int] = {}
    for index, rung in enumerate(rungs):
        if rung.id in places:
            raise LadderError(f"rung {rung.id!r} is given twice")
        if not math.isfinite(rung.cost) or rung.cost < 0:
            raise LadderError(f"rung {rung.id!r}: cost {rung.cost} is not a number from 0 up")
        if not 0 <= rung.p <= 1:
            raise LadderError(f"rung {rung.id!r}: p {rung.p} is not between 0 and 1")
        places[rung.id] = index
    before = [0] * len(rungs)
    for index, rung in enumerate(rungs):
        for earlier in rung.after:
            if earlier not in places:
                raise LadderError(f"rung {rung.id!r} comes after {earlier!r}, which is not a rung here")
            before[index] |= 1 << places[earlier]
    return _Graph(rungs=tuple(rungs), before=_closed(before, rungs=rungs))


def _closed(before: list[int], *, rungs: Sequence[RungChoice]) -> tuple[int, ...]:
    """Close under transitivity in a topological walk; raise LadderError when there is none."""
    direct = list(before)
    done, left = 0, set(range(len(before)))
    while left:
        free = [index for index in sorted(left) if direct[index] & ~done == 0]
        if not free:
            names = ", ".join(repr(rungs[index].id) for index in sorted(left))
            raise LadderError(f"these rungs wait for each other in a circle: {names}")
        for index in free:
            for earlier in _bits(direct[index]):
                before[index] |= before[earlier]
            done |= 1 << index
            left.discard(index)
    return tuple(before)


def _bits(mask: int) -> Iterator[int]:
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def _chains(graph: _Graph) -> list[list[int]] | None:
    """Return the rungs as separate chains, or None if the precedence is anything else."""
    follower: dict[int, int] = {}
    heads: list[int] = []
    for index, needed in enumerate(graph.before):
        inner = 0
        for earlier in _bits(needed):
            inner |= graph.before[earlier]
        direct = needed & ~inner
        if direct == 0:
            heads.append(index)
        elif direct.bit_count() > 1 or direct.bit_length() - 1 in follower:
            return None
        else:
            follower[direct.bit_length() - 1] = index
    chains = []
    for head in heads:
        chain = [head]
        while chain[-1] in follower:
            chain.append(follower[chain[-1]])
        chains.append(chain)
    return chains


@dataclass(order=True, slots=True)
class _Block:
    ratio: float
    head: int
    chain: int = field(compare=False)
    stop: int = field(compare=False)


def _least_block(graph: _Graph, *, chain: Sequence[int], start: int, number: int) -> _Block:
    """Return the prefix of the rest of a chain with the least ratio; the shortest one on a tie."""
    best = _Block(ratio=math.inf, head=chain[start], chain=number, stop=len(chain))
    cost, failed = 0.0, 1.0
    for stop in range(start, len(chain)):
        rung = graph.rungs[chain[stop]]
        cost += failed * rung.cost
        failed *= 1.0 - rung.p
        ratio = cost / (1.0 - failed) if failed < 1.0 else math.inf
        if ratio < best.ratio - TOLERANCE:
            best = _Block(ratio=ratio, head=chain[start], chain=number, stop=stop + 1)
    return best


def _merge_chains(graph: _Graph, chains: Sequence[Sequence[int]]) -> list[int]:
    order: list[int] = []
    taken = [0] * len(chains)
    heap = [_least_block(graph, chain=chain, start=0, number=number) for number, chain in enumerate(chains)]
    heapq.heapify(heap)
    while heap:
        block = heapq.heappop(heap)
        chain = chains[block.chain]
        order.extend(chain[taken[block.chain] : block.stop])
        taken[block.chain] = block.stop
        if block.stop < len(chain):
            heapq.heappush(heap, _least_block(graph, chain=chain, start=block.stop, number=block.chain))
    return order


def _search(graph: _Graph) -> list[int] | None:
    """Return the best order by dynamic programming over the sets of tried rungs, or None if they are too many.

    What it costs to go on after a set of failures does not depend on how that set was reached, so one value per set
    is enough: V(S) = min over available i of c_i + (1 - p_i) V(S with i).
    """
    layers = _layers(graph)
    if layers is None:
        return None
    value = {(1 << len(graph.rungs)) - 1: 0.0}
    choice: dict[int, int] = {}
    for layer in reversed(layers[:-1]):
        for tried in layer:
            best, chosen = math.inf, -1
            for index in graph.available(tried=tried):
                rung = graph.rungs[index]
                cost = rung.cost + (1.0 - rung.p) * value[tried | 1 << index]
                if cost < best - TOLERANCE * max(1.0, best if math.isfinite(best) else 1.0):
                    best, chosen = cost, index
            value[tried], choice[tried] = best, chosen
    order: list[int] = []
    tried = 0
    while tried in choice:
        order.append(choice[tried])
        tried |= 1 << choice[tried]
    return order


def _layers(graph: _Graph) -> list[list[int]] | None:
    """Return every set of rungs that may have been tried, by size; None above MAX_STATES."""
    layers, count = [[0]], 1
    for _ in graph.rungs:
        found = {tried | 1 << index for tried in layers[-1] for index in graph.available(tried=tried)}
        count += len(found)
        if count > MAX_STATES:
            return None
        layers.append(sorted(found))
    return layers


def _by_blocks(graph: _Graph) -> list[int]:
    """Emit, again and again, the rung that with its untried predecessors has the least ratio; then swap neighbors."""
    order: list[int] = []
    tried = 0
    everything = (1 << len(graph.rungs)) - 1
    while tried != everything:
        blocks = []
        for index in _bits(everything & ~tried):
            mask = (graph.before[index] | 1 << index) & ~tried
            block = sorted(_bits(mask), key=lambda member: (graph.before[member].bit_count(), member))
            blocks.append((_ratio(graph, block), len(block), block))
        block = min(blocks)[2]
        order.extend(block)
        for member in block:
            tried |= 1 << member
    return _swapped(graph, order)


def _ratio(graph: _Graph, block: Sequence[int]) -> float:
    failed = math.prod(1.0 - graph.rungs[index].p for index in block)
    cost = expected_cost([graph.rungs[index] for index in block])
    return cost / (1.0 - failed) if failed < 1.0 else math.inf


def _swapped(graph: _Graph, order: list[int]) -> list[int]:
    for _ in order:
        changed = False
        for at in range(len(order) - 1):
            left, right = order[at], order[at + 1]
            if graph.before[right] >> left & 1:
                continue
            if _ratio(graph, [right]) < _ratio(graph, [left]) - TOLERANCE:
                order[at], order[at + 1] = right, left
                changed = True
        if not changed:
            break
    return order
