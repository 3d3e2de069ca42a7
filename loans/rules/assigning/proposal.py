"""The whole proposal: blocks that cannot meet are solved by themselves, and every line says why it is as it is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from loans.rules.assigning.facts import Keeps, Offer, Reason, Stop, Wanted, Weights
from loans.rules.assigning.fit import left_without, points_of, stop_of
from loans.rules.assigning.solve import NEVER, NOBODY, Whole, solve

Block = tuple[int, str]  # pool and kind


@dataclass(frozen=True, slots=True)
class Line:
    """What one student gets. ``offer`` None: nothing."""

    wanted: Wanted
    offer: Offer | None
    why: tuple[Reason, ...]
    chances: int = 1  # outcomes for this student, this one included, between which the lot decided
    is_fixed: bool = False

    @property
    def points(self) -> int:
        return sum(reason.points for reason in self.why)


@dataclass(frozen=True, slots=True)
class Proposal:
    lines: tuple[Line, ...]  # in the order of the wishes
    unused: tuple[Offer, ...]  # may go out and went to nobody

    @property
    def served(self) -> int:
        return sum(line.offer is not None for line in self.lines)

    @property
    def points(self) -> int:
        """The points of those who got one: the least there can be with these served."""
        return sum(line.points for line in self.lines if line.offer is not None)


def assign(
    wanted: Sequence[Wanted],
    offers: Iterable[Offer],
    *,
    weights: Weights,
    seed: int,
    fixed: Mapping[str, int | None] | None = None,
    excluded: Collection[int] = frozenset(),
) -> Proposal:
    """Propose an instrument for as many as possible, the best way by ``weights``; ties are drawn by ``seed``.

    No weight makes it serve fewer. Who goes without where there are too few hangs on ``priority`` and ``waited`` alone,
    never on which instrument would fit whom; then the points of all pairs together are the fewest possible. Neither the
    order of wishes or offers nor what their keys are favors anybody: a lot belongs to its pair.

    ``fixed`` maps a wish's key to the instrument it is given before all others, or None; that may be one which the
    rules forbid. ``excluded`` instruments go to nobody else. Keys of wishes and offers are unique; ValueError where one
    instrument is fixed twice or a fixed one is not among the offers.
    """
    fixed = fixed or {}
    by_key = {offer.key: offer for offer in offers}
    given = [key for one in wanted if (key := fixed.get(one.key)) is not None]
    if len(set(given)) != len(given) or not by_key.keys() >= set(given):
        raise ValueError("a fixed instrument is given twice or is not there")
    lines = {one.key: _fixed_line(one, by_key.get(fixed[one.key] or 0), weights) for one in wanted if one.key in fixed}
    free = [offer for key, offer in by_key.items() if key not in excluded and key not in set(given)]
    waiting, there = defaultdict[Block, list[Wanted]](list), defaultdict[Block, list[Offer]](list)
    for one in wanted:
        if one.key not in fixed:
            waiting[one.pool, one.kind].append(one)
    for offer in free:
        there[offer.pool, offer.kind].append(offer)
    for block, group in waiting.items():
        for line in _solved(group, there[block], weights=weights, seed=seed):
            lines[line.wanted.key] = line
    used = {line.offer.key for line in lines.values() if line.offer}
    unused = tuple(one for one in free if one.keeps is Keeps.NOTHING and one.key not in used)
    return Proposal(lines=tuple(lines[one.key] for one in wanted), unused=unused)


def _fixed_line(wanted: Wanted, offer: Offer | None, weights: Weights) -> Line:
    if offer is None:
        return Line(wanted, None, (Reason("fixed_none"),), is_fixed=True)
    stop = stop_of(wanted, offer)
    against = () if stop in {Stop.POOL, Stop.KIND} else points_of(wanted, offer, weights)
    despite = () if stop is None else (Reason(f"despite_{stop.value}"),)
    return Line(wanted, offer, (Reason("fixed"), *despite, *against), is_fixed=True)


def _solved(group: Sequence[Wanted], offers: Sequence[Offer], *, weights: Weights, seed: int) -> Iterable[Line]:
    """Solve one kind at one school, in parts that have no instrument in common."""
    points = np.full((len(group), len(offers)), NEVER, dtype=np.int64)
    for i, one in enumerate(group):
        for j, offer in enumerate(offers):
            if stop_of(one, offer) is None:
                points[i, j] = sum(reason.points for reason in points_of(one, offer, weights))
    n = len(group)
    meet = np.zeros((n + len(offers), n + len(offers)), dtype=np.bool_)
    meet[:n, n:] = points != NEVER
    _, part = connected_components(csr_array(meet), directed=False)
    for number in dict.fromkeys(int(one) for one in part[:n]):
        rows, columns = np.nonzero(part[:n] == number)[0].tolist(), np.nonzero(part[n:] == number)[0].tolist()
        yield from _solved_part(
            [group[i] for i in rows],
            [offers[j] for j in columns],
            points[np.ix_(rows, columns)],
            all_offers=offers,
            weights=weights,
            seed=seed,
        )


def _solved_part(
    group: Sequence[Wanted],
    offers: Sequence[Offer],
    points: Whole,
    *,
    all_offers: Sequence[Offer],
    weights: Weights,
    seed: int,
) -> Iterable[Line]:
    without = np.array([left_without(one, weights) for one in group], dtype=np.int64)
    keys = [str(offer.key) for offer in offers]
    solution = solve(points, without, rows=[one.key for one in group], columns=keys, seed=seed)
    for one, column, chances in zip(group, solution.columns, solution.chances, strict=True):
        if column == NOBODY:
            yield Line(one, None, _why_none(one, all_offers, chances=chances), chances)
            continue
        offer = offers[column]
        against = points_of(one, offer, weights)
        clean = (Reason("clean_first"),) if offer.keeps is Keeps.CLEANING else ()
        lot = (Reason("drawn", number=chances),) if chances > 1 else ()
        yield Line(one, offer, (*_for_it(one, offer, against), *against, *clean, *lot), chances)


def _for_it(wanted: Wanted, offer: Offer, against: Sequence[Reason]) -> tuple[Reason, ...]:
    if wanted.had == offer.key:
        return (Reason("same"),)
    return () if against else (Reason("fits"),)


def _why_none(wanted: Wanted, offers: Sequence[Offer], *, chances: int) -> tuple[Reason, ...]:
    """Say the one thing that would have to change first."""
    sized = [offer for offer in offers if not wanted.size or offer.size == wanted.size]
    if not sized:
        return (Reason("no_size" if offers else "no_kind"),)
    stops = [stop_of(wanted, offer) for offer in sized]
    if None in stops:
        few = Reason("too_few", number=sum(offer.keeps is Keeps.NOTHING for offer in sized))
        return (few, Reason("drawn", number=chances)) if chances > 1 else (few,)
    for stop, code in ((Stop.NOTES, "only_limits"), (Stop.SHARED, "only_unclean")):
        if stop in stops:
            return (Reason(code, number=stops.count(stop)),)
    for keeps, code in ((Keeps.BENCH, "all_bench"), (Keeps.OUT, "all_out")):
        if all(offer.keeps is keeps for offer in sized):
            return (Reason(code, number=len(sized)),)
    return (Reason("all_kept", number=len(sized)),)
