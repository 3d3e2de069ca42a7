"""What was measured, against what was aimed at."""

from __future__ import annotations

import gc
import math
import os
import platform
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import perf_counter


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the table. Times in milliseconds; ``most_ms`` and ``most_queries`` are the aims, None without one."""

    what: str
    median_ms: float | None = None
    p95_ms: float | None = None
    queries: int | None = None
    most_ms: float | None = None
    most_queries: int | None = None
    note: str = ""

    @property
    def is_missed(self) -> bool:
        """Return whether the median or the query count is past its aim."""
        slow = self.most_ms is not None and self.median_ms is not None and self.median_ms > self.most_ms
        many = self.most_queries is not None and self.queries is not None and self.queries > self.most_queries
        return slow or many

    @property
    def aim(self) -> str:
        time = "" if self.most_ms is None else f"< {duration(self.most_ms)}"
        count = "" if self.most_queries is None else f"{self.most_queries} queries"
        return ", ".join(part for part in (time, count) if part)


def duration(milliseconds: float) -> str:
    if milliseconds >= 10_000:
        return f"{milliseconds / 1000:.0f} s"
    if milliseconds >= 1000:
        return f"{milliseconds / 1000:.1f} s"
    return f"{milliseconds:.0f} ms" if milliseconds >= 10 else f"{milliseconds:.2f} ms"


def times(call: Callable[[], object], *, runs: int, warm: int = 3) -> list[float]:
    """Return the milliseconds of ``runs`` calls after ``warm`` ones that are thrown away."""
    for _ in range(warm):
        call()
    gc.collect()
    taken = []
    for _ in range(runs):
        started = perf_counter()
        call()
        taken.append((perf_counter() - started) * 1000.0)
    return taken


def middle(taken: Sequence[float]) -> float:
    return statistics.median(taken)


def p95(taken: Sequence[float]) -> float:
    """Return the 95th percentile by nearest rank."""
    return sorted(taken)[math.ceil(0.95 * len(taken)) - 1]


def machine() -> str:
    return (
        f"{os.cpu_count()} cores, {platform.machine()}, {platform.system()}, Python {platform.python_version()}; "
        f"load {os.getloadavg()[0]:.1f} when it began"
    )


def lines(figures: Sequence[Figure]) -> list[str]:
    """Return the table as text, one line a figure."""
    wide = max((len(figure.what) for figure in figures), default=0)
    head = f"{'':{wide}}  {'median':>9} {'95%':>9} {'queries':>7}  {'aim':<20} "
    rows = [head]
    for figure in figures:
        median = "" if figure.median_ms is None else duration(figure.median_ms)
        slowest = "" if figure.p95_ms is None else duration(figure.p95_ms)
        queries = "" if figure.queries is None else str(figure.queries)
        kept = "" if not figure.aim else "MISSED" if figure.is_missed else "kept"
        rows.append(
            f"{figure.what:{wide}}  {median:>9} {slowest:>9} {queries:>7}  {figure.aim:<20} {kept:<6} {figure.note}".rstrip()
        )
    return rows
