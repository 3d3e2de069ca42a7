"""What is to be done at a bench, and when a line of it begins and ends."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

DAY = 24 * 60.0
NO_ONE = 1e-6  # nobody waits, and still sooner is better
TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Piece:
    """One step as the order takes it. Pieces are named by their place in the list of all."""

    job: int
    minutes: float
    rest: float = 0.0  # minutes that its job rests afterwards
    before: tuple[int, ...] = ()  # pieces that must be done and rested
    method: str = ""  # what it can share a set-up with; "" for nothing
    saved: float = 0.0  # minutes if the same method was the last thing done
    is_counted: bool = True  # whether the job ends only with it
    is_divisible: bool = False  # goes on the next morning


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is wanted of a job: how many wait for it, how long it still rests, and its last day, counted from today."""

    students: float
    rests: float = 0.0
    last_day: int | None = None


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece on the bench, in minutes by the clock from the start of the first day."""

    piece: int
    starts_at: float
    ends_at: float
    saved: float


@dataclass(frozen=True)
class Bench:
    """Everything to be done at one bench, and how many minutes a day it has."""

    pieces: Sequence[Piece]
    wanted: Sequence[Wanted]
    day: float

    @cached_property
    def period(self) -> float:
        """Return the minutes from one morning to the next."""
        return max(DAY, self.day)

    @cached_property
    def followers(self) -> list[list[int]]:
        found: list[list[int]] = [[] for _ in self.pieces]
        for number, piece in enumerate(self.pieces):
            for first in piece.before:
                found[first].append(number)
        return found

    @cached_property
    def heads(self) -> list[float]:
        return [self.wanted[piece.job].rests for piece in self.pieces]

    @cached_property
    def of_job(self) -> list[list[int]]:
        found: list[list[int]] = [[] for _ in self.wanted]
        for number, piece in enumerate(self.pieces):
            found[piece.job].append(number)
        return found

    @cached_property
    def last_days(self) -> list[int | None]:
        """Return for each job its last day, counted from today; None if it has none or could not keep it even alone."""
        return [
            None if one.last_day is None or self.day_of(self.alone[job]) > one.last_day else one.last_day
            for job, one in enumerate(self.wanted)
        ]

    @cached_property
    def alone(self) -> list[float]:
        """Return when each job would be done if it were the only one."""
        return [self.ends(self.in_order(numbers))[job] for job, numbers in enumerate(self.of_job)]

    @cached_property
    def columns(self) -> tuple[list[Any], ...]:
        """Return the pieces as one list for each attribute: reading lists is what makes the search fast."""
        pieces = self.pieces
        return (
            [piece.minutes for piece in pieces], [piece.saved for piece in pieces], [piece.rest for piece in pieces],
            [piece.method or f" {number}" for number, piece in enumerate(pieces)], [piece.job for piece in pieces],
            [piece.is_counted for piece in pieces], self.followers, self.tails,
        )  # fmt: skip

    @cached_property
    def tails(self) -> list[float]:
        """Return for each piece the least minutes from its end to the end of its job."""
        found = [0.0] * len(self.pieces)
        for numbers in self.of_job:
            for number in reversed(self.in_order(numbers)):
                later = [
                    self.pieces[after].minutes + found[after]
                    for after in self.followers[number]
                    if self.pieces[after].is_counted
                ]
                found[number] = max(later, default=0.0) + (self.pieces[number].rest if later else 0.0)
        return found

    @cached_property
    def weights(self) -> list[float]:
        return [one.students + NO_ONE for one in self.wanted]

    @cached_property
    def latest(self) -> list[float]:
        """Return for each job the minute, by the clock, by which it must end; infinity where it has no date."""
        return [math.inf if last is None else last * self.period + self.day + TOLERANCE for last in self.last_days]

    @cached_property
    def work(self) -> list[float]:
        return [sum(self.pieces[number].minutes for number in numbers) for numbers in self.of_job]

    @cached_property
    def per_student(self) -> list[float]:
        return [work / weight for work, weight in zip(self.work, self.weights, strict=True)]

    @cached_property
    def deadlines(self) -> list[float]:
        """Return for each job the bench minute by which its own work must be done so that its waits still fit."""
        return [
            math.inf if last is None else (last + 1) * self.day - self.bench_minutes(alone) + work
            for last, alone, work in zip(self.last_days, self.alone, self.work, strict=True)
        ]

    def in_order(self, numbers: Iterable[int]) -> list[int]:
        """Return pieces in an order that their needs allow, else as they were."""
        left, found, done = list(numbers), list[int](), set[int]()
        inside = set(left)
        while left:
            able = [
                one for one in left if all(first in done or first not in inside for first in self.pieces[one].before)
            ]
            found += able
            done.update(able)
            if not able:  # needs in a circle: nothing of it can be begun
                break
            left = [one for one in left if one not in done]
        return found

    def day_of(self, moment: float) -> int:
        return max(int((moment - TOLERANCE) // self.period), 0)

    def bench_minutes(self, moment: float) -> float:
        """Return the bench time up to a moment by the clock."""
        day = self.day_of(moment)
        return day * self.day + min(moment - day * self.period, self.day)

    def place(self, number: int, *, clock: float, ready: float, last: str) -> tuple[float, float, float]:
        """Return start, end and minutes saved of a piece that comes next on the bench."""
        piece = self.pieces[number]
        start, saved = clock, 0.0
        if ready > clock:
            start = ready
        elif piece.method and piece.method == last:
            saved = piece.saved
        minutes, room = piece.minutes - saved, self.day + TOLERANCE
        today = start // self.period * self.period
        if start - today + minutes <= room:
            return start, start + minutes, saved
        if piece.is_divisible and start - today < self.day:
            return start, self._flowed(start, minutes), saved
        start = today + self.period
        if piece.minutes <= room:
            return start, start + piece.minutes, 0.0
        return start, self._flowed(start, piece.minutes), 0.0

    def _flowed(self, start: float, minutes: float) -> float:
        """Return the end of work that goes on over as many days as it takes."""
        day, into = divmod(start, self.period)
        whole, rest = divmod(into + minutes, self.day)
        if rest <= TOLERANCE and whole:
            whole, rest = whole - 1, self.day
        return (day + whole) * self.period + rest

    def laid_out(self, line: Iterable[int]) -> Iterator[Stretch]:
        """Yield the pieces of a line as they come on the bench."""
        ready, clock, last = self.heads.copy(), 0.0, ""
        for number in line:
            start, end, saved = self.place(number, clock=clock, ready=ready[number], last=last)
            rested = end + self.pieces[number].rest
            for after in self.followers[number]:
                ready[after] = max(ready[after], rested)
            clock, last = end, self.pieces[number].method
            yield Stretch(number, start, end, saved)

    def ends(self, line: Iterable[int]) -> list[float]:
        """Return when each job is done, in minutes by the clock; 0 for one that the line leaves out."""
        ends = [0.0] * len(self.wanted)
        for stretch in self.laid_out(line):
            piece = self.pieces[stretch.piece]
            if piece.is_counted:
                ends[piece.job] = stretch.ends_at
        return ends

    def late(self, ends: Sequence[float]) -> list[int]:
        """Return the jobs that are late and need not be."""
        return [
            job for job, end in enumerate(ends) if (last := self.last_days[job]) is not None and self.day_of(end) > last
        ]
