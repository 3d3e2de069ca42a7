"""What was measured, against what was aimed at."""

from __future__ import annotations

import gc
import math
import os
import platform
import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from time import perf_counter, process_time
from typing import Any

GROWS, MARGIN_MS = 1.5, 10.0


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
    bytes: int | None = None  # on the wire, compressed
    most_bytes: int | None = None
    row: Mapping[str, Any] | None = None  # what goes into a file besides, with another size

    @property
    def is_missed(self) -> bool:
        """Return whether the median, the query count or the bytes are past their aim."""
        pairs = (
            (self.median_ms, self.most_ms),
            (self.queries, self.most_queries),
            (self.bytes, self.most_bytes),
        )
        return any(found is not None and most is not None and found > most for found, most in pairs)

    @property
    def aim(self) -> str:
        time = "" if self.most_ms is None else f"< {duration(self.most_ms)}"
        count = "" if self.most_queries is None else f"{self.most_queries} queries"
        wire = "" if self.most_bytes is None else f"{self.most_bytes / 1000:.0f} kB"
        return ", ".join(part for part in (time, count, wire) if part)


def duration(milliseconds: float) -> str:
    if milliseconds >= 10_000:
        return f"{milliseconds / 1000:.0f} s"
    if milliseconds >= 1000:
        return f"{milliseconds / 1000:.1f} s"
    return f"{milliseconds:.0f} ms" if milliseconds >= 10 else f"{milliseconds:.2f} ms"


def times(call: Callable[[], object], *, runs: int, warm: int = 3) -> list[float]:
    """Return the milliseconds of ``runs`` calls after ``warm`` ones that are thrown away.

    With BENCH_CPU in the environment they are the process's own: SQLite works inside it, so nothing of a page is left
    out, and other work on a shared machine does not count.
    """
    clock = process_time if os.environ.get("BENCH_CPU") else perf_counter
    for _ in range(warm):
        call()
    gc.collect()
    taken = []
    for _ in range(runs):
        started = clock()
        call()
        taken.append((clock() - started) * 1000.0)
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
    head = f"{'':{wide}}  {'median':>9} {'95%':>9} {'queries':>7} {'wire':>8}  {'aim':<24} "
    rows = [head]
    for figure in figures:
        median = "" if figure.median_ms is None else duration(figure.median_ms)
        slowest = "" if figure.p95_ms is None else duration(figure.p95_ms)
        queries = "" if figure.queries is None else str(figure.queries)
        wire = "" if figure.bytes is None else f"{figure.bytes / 1000:.1f} kB"
        kept = "" if not figure.aim else "MISSED" if figure.is_missed else "kept"
        rows.append(
            f"{figure.what:{wide}}  {median:>9} {slowest:>9} {queries:>7} {wire:>8}  {figure.aim:<24} {kept:<6} {figure.note}".rstrip()
        )
    return rows


def as_rows(figures: Sequence[Figure], *, size: int) -> list[dict[str, Any]]:
    """Return the figures for a file; ``size`` is the number of instruments they were taken at."""
    return [
        {
            "name": figure.what,
            "median_ms": figure.median_ms,
            "p95_ms": figure.p95_ms,
            "queries": figure.queries,
            "size": size,
            "bytes": figure.bytes,
        }
        | dict(figure.row or {})
        for figure in figures
    ]


def growth(figures: Sequence[Figure], before: Sequence[dict[str, Any]]) -> list[str]:
    """Return what takes more than GROWS times what it took at the other size, and MARGIN_MS."""
    earlier = {row["name"]: row for row in before}
    found = []
    for figure in figures:
        row = earlier.get(figure.what)
        if row is None or row["median_ms"] is None or figure.median_ms is None:
            continue
        most = GROWS * row["median_ms"] + MARGIN_MS
        if figure.median_ms > most:
            found.append(
                f"GROWN {figure.what}: {duration(row['median_ms'])} at {row['size']:,} instruments, now "
                f"{duration(figure.median_ms)} (at most {duration(most)})"
            )
    return found or [f"Nothing takes more than {GROWS} times what it took before, and {MARGIN_MS:.0f} ms."]
