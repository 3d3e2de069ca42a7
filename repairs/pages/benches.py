"""Benches, with what each can and cannot do in a line."""

from __future__ import annotations

from django.utils.translation import gettext, ngettext

from inventory.catalog.load import catalog
from repairs.models import Bench, BenchQuerySet


def bench_lines(rows: BenchQuerySet) -> list[tuple[Bench, list[str]]]:
    """Return benches, their open jobs counted, with what each lacks in words. One query."""
    return [(bench, _cannot(bench)) for bench in rows.with_open_jobs()]


def _cannot(bench: Bench) -> list[str]:
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
    return words
