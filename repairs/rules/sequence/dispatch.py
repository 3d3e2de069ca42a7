"""A first line of work, step by step: always what is first in rank, unless something else pays better."""

from __future__ import annotations

import heapq
from bisect import bisect_left, insort
from collections.abc import Sequence

from repairs.rules.sequence.bench import TOLERANCE, Bench

LOOK_AHEAD = 6  # jobs looked at that are about to wake
LOOKED_AT = 20  # pieces looked at for one that still fits into the day


class Dispatch:
    """A line built step by step: of the jobs that are awake the first in rank goes on, unless something pays better."""

    def __init__(self, bench: Bench, ranks: Sequence[int]) -> None:
        self.bench, self.ranks = bench, ranks
        self.missing = [len(piece.before) for piece in bench.pieces]
        self.ready = bench.heads.copy()
        self.asleep: list[tuple[float, int, int]] = []  # heap of (ready at, rank, piece)
        self.awake: list[tuple[int, int]] = []  # sorted (rank, piece)
        self.alike: dict[str, list[tuple[int, int]]] = {}  # the same by method
        self.weight = 0.0  # of all that is awake
        self.clock, self.last = 0.0, ""
        for number, count in enumerate(self.missing):
            if not count:
                heapq.heappush(self.asleep, (self.ready[number], ranks[bench.pieces[number].job], number))

    def line(self) -> list[int]:
        found: list[int] = []
        while self._woken():
            number = self._picked()
            if number is not None:
                self._do(number)
                found.append(number)
        return found

    def _woken(self) -> bool:
        """Wake what is ready by now; if nothing is, go on to when something will be. False when all is done."""
        if not self.awake and self.asleep:
            self.clock = max(self.clock, self.asleep[0][0])
        while self.asleep and self.asleep[0][0] <= self.clock:
            _, rank, number = heapq.heappop(self.asleep)
            insort(self.awake, (rank, number))
            insort(self.alike.setdefault(self.bench.pieces[number].method, []), (rank, number))
            self.weight += self._weight(number)
        return bool(self.awake)

    def _weight(self, number: int) -> float:
        return self.bench.weights[self.bench.pieces[number].job]

    def _picked(self) -> int | None:
        """Return what to do now; None to let the bench stand until the next job wakes."""
        number = self._same_again()
        if number is None:
            number = self._fitting()
        if number is None:
            return self.awake[0][1]
        until = self.clock + self.bench.pieces[number].minutes
        mine = self.ranks[self.bench.pieces[number].job]
        for wakes, rank, other in (
            heapq.nsmallest(LOOK_AHEAD, self.asleep) if self.asleep and self.asleep[0][0] < until else ()
        ):
            if wakes < until and rank < mine:
                if self._weight(other) * (until - wakes) <= self.weight * (wakes - self.clock):
                    continue
                for _, small in self.awake[:LOOK_AHEAD]:
                    if self.clock + self.bench.pieces[small].minutes <= wakes:
                        return small
                self.clock, self.last = wakes, ""
                return None
        return number

    def _same_again(self) -> int | None:
        """Return the first piece of the method just done, where the set-up saved outweighs the wait of those before."""
        alike = self.alike.get(self.last) if self.last else None
        if not alike:
            return None
        piece = self.bench.pieces[alike[0][1]]
        place = bisect_left(self.awake, alike[0])
        if place > LOOK_AHEAD or not self._fits(alike[0][1], saved=piece.saved):
            return None
        front = sum(self._weight(number) for _, number in self.awake[:place])
        return alike[0][1] if (piece.minutes - piece.saved) * front <= piece.saved * self.weight else None

    def _fits(self, number: int, *, saved: float = 0.0) -> bool:
        into = self.clock % self.bench.period
        piece = self.bench.pieces[number]
        return into + piece.minutes - saved <= self.bench.day + TOLERANCE or (
            piece.is_divisible and into < self.bench.day
        )

    def _fitting(self) -> int | None:
        return next((number for _, number in self.awake[:LOOKED_AT] if self._fits(number)), None)

    def _do(self, number: int) -> None:
        piece = self.bench.pieces[number]
        key = (self.ranks[piece.job], number)
        self.awake.remove(key)
        self.alike[piece.method].remove(key)
        self.weight -= self._weight(number)
        _, self.clock, _ = self.bench.place(number, clock=self.clock, ready=self.ready[number], last=self.last)
        self.last = piece.method
        for after in self.bench.followers[number]:
            self.ready[after] = max(self.ready[after], self.clock + piece.rest)
            self.missing[after] -= 1
            if not self.missing[after]:
                job = self.bench.pieces[after].job
                heapq.heappush(self.asleep, (self.ready[after], self.ranks[job], after))
