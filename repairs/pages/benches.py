"""Benches, with what each can and cannot do in a line."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext, ngettext

from inventory.catalog.load import catalog
from repairs.models import Bench, BenchQuerySet


@dataclass(frozen=True, slots=True)
class BenchLine:
    bench: Bench
    tools: int
    methods: int
    cannot: tuple[str, ...]
    jobs_open: int


def bench_lines(rows: BenchQuerySet) -> list[BenchLine]:
    """Return benches with what each lacks. One query."""
    return [
        BenchLine(
            bench=bench,
            tools=len(bench.tools),
            methods=len(bench.methods),
            cannot=_cannot(bench),
            jobs_open=bench.jobs_open,  # type: ignore[attr-defined]  # annotated
        )
        for bench in rows.with_open_jobs()
    ]


def _cannot(bench: Bench) -> tuple[str, ...]:
    missing = [tool.name for tool in catalog().tools.values() if tool.starter and tool.code not in bench.tools]
    words = []
    if not bench.has_torch:
        words.append(gettext("no torch"))
    if not bench.has_chemicals:
        words.append(gettext("no chemicals"))
    if missing:
        tools, more = ", ".join(missing[:3]), len(missing) - 3
        if more > 0:
            tools = ngettext("%(tools)s and %(more)d more", "%(tools)s and %(more)d more", more) % {
                "tools": tools,
                "more": more,
            }
        words.append(gettext("missing from a first bench's tools: %(tools)s") % {"tools": tools})
    return tuple(words)


def starter_tools() -> list[str]:
    """Codes of the tools of a first school bench, which a new bench begins with."""
    return [code for code, tool in catalog().tools.items() if tool.starter]
