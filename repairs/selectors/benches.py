"""Benches, with what each can and cannot do in a line."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet

from inventory.catalog.load import catalog
from repairs.models import Bench


@dataclass(frozen=True, slots=True)
class BenchLine:
    bench: Bench
    tools: int
    methods: int
    cannot: tuple[str, ...]
    jobs_open: int


def bench_lines(rows: QuerySet[Bench]) -> list[BenchLine]:
    """One query."""
    benches = rows.select_related("school").annotate(jobs_open=Count("jobs", filter=Q(jobs__closed_at=None)))
    return [
        BenchLine(
            bench=bench,
            tools=len(bench.tools),
            methods=len(bench.methods),
            cannot=_cannot(bench),
            jobs_open=bench.jobs_open,
        )
        for bench in benches.order_by("school__name", "name", "pk")
    ]


def _cannot(bench: Bench) -> tuple[str, ...]:
    missing = [tool.name for tool in catalog().tools.values() if tool.starter and tool.code not in bench.tools]
    words = []
    if not bench.has_torch:
        words.append("no torch")
    if not bench.has_chemicals:
        words.append("no chemicals")
    if missing:
        shown = ", ".join(missing[:3])
        more = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
        words.append(f"of a first bench's tools it lacks {shown}{more}")
    return tuple(words)


def starter_tools() -> list[str]:
    """Codes of the tools of a first school bench, which a new bench begins with."""
    return [code for code, tool in catalog().tools.items() if tool.starter]
