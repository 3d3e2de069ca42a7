"""The search for a good line of work: rough ones first, the best of them mended."""

from __future__ import annotations

import heapq
import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from repairs.rules.sequence.bench import TOLERANCE, Bench
from repairs.rules.sequence.dispatch import Dispatch

LATE = 1e12  # a late job outweighs any wait
EARLY = 1e-4  # a step that ends a minute sooner: of two lines as good, what more wait for is begun first
PLACINGS = 100_000  # of steps on the bench while a line is mended: a limit that does not depend on the machine
FEW, FEW_PLACINGS = 24, 300_000  # steps that are a small day, and its own limit
BUILDING = 25  # placings that a piece of a first line takes
PATIENCE = 20  # rounds without anything better
STARTS = 24  # lines that are mended, the later ones begun at random
FURTHER, NEAR, BACK = 0.2, 0.03, 0.1  # how much worse is still mended, and walked on from; how often it goes back


def arrange(bench: Bench, *, placings: int | None = None) -> list[int]:
    """Return all pieces in the order of work; the same pieces always give the same order."""
    if placings is None:
        placings = FEW_PLACINGS if len(bench.pieces) <= FEW else PLACINGS
    return _Search(bench, left=placings).found()


@dataclass(slots=True)
class _State:
    """How far a line has come: when each piece may begin, when each job ended, and when today's bench closes."""

    ready: list[float]
    ends: list[float]
    closes: float
    clock: float = 0.0
    last: str = ""
    early: float = 0.0

    def copy(self) -> _State:
        return _State(self.ready.copy(), self.ends.copy(), self.closes, self.clock, self.last, self.early)


@dataclass(slots=True)
class _Search:
    """The search for a good line: rough ones first, the best of them mended while placings are left."""

    bench: Bench
    left: int

    def found(self) -> list[int]:
        lines: list[list[int]] = []
        for ranks in self._orders():
            lines.append(Dispatch(self.bench, ranks).line())
            self.left -= BUILDING * len(lines[0])
            if len(lines) > 1 and self.left <= 0:
                break
        generator = random.Random(0)  # noqa: S311 - which jobs to try next, the same each time
        mended = [self._mended(line, generator) for line in sorted(lines, key=self.cost)]
        while self.left > 0 and len(mended) < STARTS and len(self.bench.wanted) > 1:
            ranks = generator.sample(range(len(self.bench.wanted)), k=len(self.bench.wanted))
            mended.append(self._mended(Dispatch(self.bench, ranks).line(), generator))
        return min(mended, key=self.cost)

    def cost(self, line: Sequence[int]) -> float:
        """Return what a line costs: late jobs that need not be, then students times minutes until they can play."""
        state = self._state()
        self._go_on(line, state)
        return self._total(state)

    def _state(self) -> _State:
        return _State(self.bench.heads.copy(), [0.0] * len(self.bench.wanted), self.bench.day + TOLERANCE)

    def _go_on(self, line: Sequence[int], state: _State) -> None:
        """Put pieces on the bench after those that came before: what ``Bench.place`` does, in one loop for speed."""
        bench = self.bench
        self.left -= len(line)
        minutes, saves, rests, methods, jobs, counted, followers, tails = bench.columns
        ready, ends, clock, last, closes = state.ready, state.ends, state.clock, state.last, state.closes
        weights, early = bench.weights, 0.0
        for number in line:
            at = ready[number]
            if at > clock:
                end = at + minutes[number]
            else:
                end = clock + minutes[number]
                if methods[number] == last:
                    end -= saves[number]
            if end > closes:
                at, end, _ = bench.place(number, clock=clock, ready=at, last=last)
                closes = at // bench.period * bench.period + bench.day + TOLERANCE
            rested = end + rests[number]
            for after in followers[number]:
                ready[after] = max(ready[after], rested)
            if counted[number]:
                ends[jobs[number]] = end + tails[number]
                early += weights[jobs[number]] * end
            clock, last = end, methods[number]
        state.clock, state.last, state.closes = clock, last, closes
        state.early += EARLY * early

    def _total(self, state: _State) -> float:
        bench, total, ends = self.bench, state.early, state.ends
        period, night = bench.period, bench.period - bench.day
        for end, weight, latest in zip(ends, bench.weights, bench.latest, strict=True):
            total += weight * (end - end // period * night)
            if end > latest:
                total += LATE
        return total

    def _orders(self) -> Iterator[list[int]]:
        """Yield ranks of the jobs by three rules: most students per minute; most dates kept; earliest due first."""
        smith = self._ranked(self.bench.per_student)
        yield smith
        if any(last is not None for last in self.bench.last_days):
            yield self._ranked(_backward(self.bench, self._kept()))
            yield self._ranked(list(zip(self.bench.deadlines, smith, strict=True)))

    @staticmethod
    def _ranked(keys: Sequence[Any]) -> list[int]:
        ranks = [0] * len(keys)
        for rank, job in enumerate(sorted(range(len(keys)), key=lambda job: (keys[job], job))):
            ranks[job] = rank
        return ranks

    def _kept(self) -> set[int]:
        """Return the most jobs that can all be done in time, as if none ever rested (Moore 1968)."""
        kept: list[tuple[float, int]] = []  # heap, longest first
        clock = 0.0
        for job in sorted(range(len(self.bench.wanted)), key=lambda job: self.bench.deadlines[job]):
            if self.bench.deadlines[job] == math.inf:
                break
            heapq.heappush(kept, (-self.bench.work[job], job))
            clock += self.bench.work[job]
            if clock > self.bench.deadlines[job] + TOLERANCE:
                clock += heapq.heappop(kept)[0]
        return {job for _, job in kept}

    def _mended(self, line: list[int], generator: random.Random) -> list[int]:
        """Return the line after steps and jobs were taken out and put back wherever that costs less."""
        best, least = self._settled(line, self.cost(line))
        here, now, many, found_at, rounds = best, least, len(self.bench.wanted), 0, 0
        while self.left > 0 and many > 1 and rounds - found_at < PATIENCE:
            rounds += 1
            out = generator.sample(range(many), k=min(generator.choice((1, 2, 3, 4, 5)), many))
            tried = self._put_back([one for one in here if self.bench.pieces[one].job not in out], out)
            if tried is None:
                break
            if tried[1] <= now + FURTHER * (now % LATE):
                tried = self._settled(*tried)
            if tried[1] <= now + NEAR * (now % LATE):
                here, now = tried
            if now < least - TOLERANCE:
                best, least, found_at = here, now, rounds
            elif now > least and generator.random() < BACK:
                here, now = best, least
        return best

    def _settled(self, line: list[int], least: float) -> tuple[list[int], float]:
        """Move single steps to better places until no move helps."""
        is_better = True
        while is_better and self.left > 0:
            is_better = False
            for number in line.copy():
                rest = [one for one in line if one != number]
                best = self._best_place(rest, number)
                if best is None:
                    return line, least
                cost, at = best
                if cost < least - TOLERANCE * max(least, 1.0):
                    line, least, is_better = [*rest[:at], number, *rest[at:]], cost, True
        return line, least

    def _put_back(self, line: list[int], jobs: Sequence[int]) -> tuple[list[int], float] | None:
        cost = 0.0
        for job in jobs:
            for number in self.bench.in_order(self.bench.of_job[job]):
                best = self._best_place(line, number)
                if best is None:
                    return None
                cost, at = best
                line = [*line[:at], number, *line[at:]]
        return line, cost

    def _best_place(self, line: list[int], number: int) -> tuple[float, int] | None:
        """Return the least cost of a line with one more piece, and where it goes; None when no placings are left."""
        before, after = self.bench.pieces[number].before, self.bench.followers[number]
        low = max((at + 1 for at, one in enumerate(line) if one in before), default=0)
        high = min((at for at, one in enumerate(line) if one in after), default=len(line))
        if self.left < len(line) * (high - low + 1):
            self.left = 0
            return None
        state, best = self._state(), (math.inf, low)
        self._go_on(line[:low], state)
        for at in range(low, high + 1):
            tried = state.copy()
            self._go_on([number, *line[at:]], tried)
            best = min(best, (self._total(tried), at))
            self._go_on(line[at : at + 1], state)
        return best


def _backward(bench: Bench, kept: set[int]) -> list[float]:
    """Return keys of an order that keeps dates: the last place goes to the job that loses least by it (Smith 1956).

    Among the jobs whose date allows the last place it is the one with the fewest students per minute; then the place
    before.
    """
    late = sorted((bench.deadlines[job] if job in kept else math.inf, job) for job in range(len(bench.wanted)))
    clock, able, keys = sum(bench.work), list[tuple[float, int]](), [0.0] * len(late)
    for place in range(len(late), 0, -1):
        while late and (late[-1][0] >= clock - TOLERANCE or not able):
            job = late.pop()[1]
            heapq.heappush(able, (-bench.per_student[job], job))
        job = heapq.heappop(able)[1]
        keys[job] = float(place)
        clock -= bench.work[job]
    return keys
