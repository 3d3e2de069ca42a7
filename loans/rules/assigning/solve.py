"""The assignment problem, solved exactly in whole numbers, proven, and drawn by lot among all that are as good.

The best is: most rows served; of these the fewest points of rows left without; of these the fewest points of pairs. The
three are one sum, each weighed beyond all that come after it.
"""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import blake2b

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]

NEVER = -1  # in place of a pair's points: it may not be
NOBODY = -1  # in place of a column: the row is left without
FAR = 2**61
EXACT = 2**53  # the solver counts in floating point, which holds whole numbers up to here
DRAW_BYTES = 5


@dataclass(frozen=True, slots=True)
class Solution:
    """``columns`` gives each row's column or NOBODY; ``chances`` how many outcomes, its own included, were as good."""

    columns: tuple[int, ...]
    chances: tuple[int, ...]


def draw(seed: int, row: str, column: str) -> int:
    """Return this pair's lot, the same for the same seed wherever the pair stands in a list."""
    return int.from_bytes(blake2b(f"{seed}|{row}|{column}".encode(), digest_size=DRAW_BYTES).digest())


def solve(points: Whole, without: Whole, *, rows: list[str], columns: list[str], seed: int) -> Solution:
    """Return the best assignment of rows to columns.

    ``points`` has one row for each of ``rows`` (their keys), NEVER where a pair may not be; ``without`` are the points
    of leaving a row without. None is negative otherwise. ArithmeticError where the answer cannot be
    proven.
    """
    cost, allowed = _square(points, without)
    match = _cheapest(cost, allowed)
    tight = _tight(cost, allowed, match)
    lots = np.zeros_like(cost)
    n, m = points.shape
    for i, j in zip(*np.nonzero(tight[:n]), strict=True):
        lots[i, j] = draw(seed, rows[i], columns[j] if j < m else "")
    drawn = _cheapest(lots, tight)
    chances = _chances(tight, drawn, n)
    return Solution(tuple(int(j) if j < m else NOBODY for j in drawn[:n]), chances)


def _square(points: Whole, without: Whole) -> tuple[Whole, Flags]:
    """Add to each row a column "left without" and to each column a row "not used", so that everything has a partner."""
    n, m = points.shape
    may = points != NEVER
    beyond_pairs = 1 + int(np.where(may, points, 0).max(axis=1, initial=0).sum())
    beyond_rows = 1 + int(without.sum())
    if (n + m) * 2 * beyond_rows * beyond_pairs >= EXACT:
        raise OverflowError("too many points to be told apart exactly")
    cost = np.zeros((n + m, n + m), dtype=np.int64)
    allowed = np.ones((n + m, n + m), dtype=np.bool_)
    cost[:n, :m], allowed[:n, :m] = np.where(may, points, 0), may
    cost[:n, m:] = np.diag((beyond_rows + without) * beyond_pairs)
    allowed[:n, m:] = np.eye(n, dtype=np.bool_)
    allowed[n:, :m] = np.eye(m, dtype=np.bool_)
    return cost, allowed


def _cheapest(cost: Whole, allowed: Flags) -> Whole:
    match: Whole = linear_sum_assignment(np.where(allowed, cost, np.inf))[1].astype(np.int64)
    return match


def _tight(cost: Whole, allowed: Flags, match: Whole) -> Flags:
    """Return the pairs that occur in any best assignment: all their whole matchings are best, and no others are.

    A price for each column is found such that nobody could do better at another column (the shortest ways of Bellman
    and Ford over single exchanges). That prices exist proves the match to be the cheapest, by duality.
    """
    own = cost[np.arange(len(match)), match]
    gain = np.where(allowed, cost - own[:, None], FAR)
    price = np.zeros(len(match), dtype=np.int64)
    for _ in range(len(match) + 1):
        lower = np.minimum(price, (gain + price[match][:, None]).min(axis=0, initial=FAR))
        if np.array_equal(lower, price):
            break
        price = lower
    else:
        raise ArithmeticError("a cheaper exchange is left")
    tight: Flags = allowed & (gain + price[match][:, None] == price)
    return tight


def _chances(tight: Flags, match: Whole, n: int) -> tuple[int, ...]:
    """Count for each of the first ``n`` rows the columns it has in some best assignment.

    A tight pair is in one exactly if a ring of exchanges leads back from it.
    """
    exchange = tight[:, match]  # row i could take what row k has
    _, ring = connected_components(csr_array(exchange), directed=True, connection="strong")
    counts = (exchange & (ring[:, None] == ring)).sum(axis=1)
    return tuple(int(count) for count in counts[:n])
