"""``python -m tests.bench.growth_page FILE...``: the tables and the chart of ``docs/growth.md`` from what was measured.

FILE is what ``--json`` of the bench wrote, for the sections growth and season; together they become ``docs/growth.json``.
Without any FILE, tables and chart are made again from that.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from core.charts import pygal  # without its finder of plugins, by which each import would warn
from tests.bench.figures import duration
from tests.bench.growth import SIZES

DOCS = Path(__file__).parent.parent.parent / "docs"
DATA, PAGE, CHART = DOCS / "growth.json", DOCS / "growth.md", DOCS / "growth.svg"
BEGINS, ENDS = "<!-- made by tests.bench.growth_page -->\n", "<!-- end -->\n"
DRAWN = (
    "register, auditor", "today, auditor", "condition of the fleet", "value three years ago", "property report",
    "replacement need", "log", "search, vale",
)  # fmt: skip
COLORS = ("#7d560a", "#2f6b46", "#9c2f24", "#2b5d8a", "#6b4a8a", "#8a4b08", "#1f1f1f", "#5b564d")

Row = dict[str, Any]


def table(rows: Sequence[Row], *, head: str, said: Callable[[Row], str]) -> Iterator[str]:
    """Yield a line for each name, with a column for each size."""
    sizes = sorted({row["size"] for row in rows})
    yield f"| {head} | " + " | ".join(f"{size:,}" for size in sizes) + " |"
    yield "| --- |" + " ---: |" * len(sizes)
    for name in dict.fromkeys(row["name"] for row in rows):
        at = {row["size"]: said(row) for row in rows if row["name"] == name}
        yield f"| {name} | " + " | ".join(at.get(size, "") for size in sizes) + " |"


def later(row: Row) -> str:
    return duration(row["later_cpu_ms"])


def first(row: Row) -> str:
    whole = duration(row["cpu_ms"] + row["database_cpu_ms"])
    return whole if row["answers"] == 1 else f"{whole} in {row['answers']} answers"


def file_cost(row: Row) -> str:
    whole = duration(row["cpu_ms"] + row["database_cpu_ms"])
    return f"{whole}; {row['bytes'] / 1e6:.1f} MB sent; +{max(row['grown_mb'], 0):.0f} MB"


def figures(rows: Sequence[Row]) -> Iterator[str]:
    grown = [row for row in rows if "grown_mb" in row]
    pages, files = ([row for row in grown if row["is_page"] is is_page] for is_page in (True, False))
    last = max(grown, key=lambda row: row["size"])
    loads = sorted({row["load"] for row in grown})
    yield (
        f"Measured on {last['on']}: {last['cores']} cores shared with other work (15-minute load {loads[0]:g} to {loads[-1]:g}), "
        f"Python {last['python']}, PostgreSQL {last['postgresql']} with its files in memory, one process and one session. Times are "
        "the processor's, of the process and of the database's session together: by the clock, other work would be counted."
    )
    yield ""
    yield from table(pages, head="page, later answers", said=later)
    yield ""
    yield "![Later answers of eight pages by size of the district](growth.svg)"
    yield ""
    yield from table(pages, head="page, first time in a process", said=first)
    yield ""
    yield from table(pages, head="page, SQL statements of a later answer", said=lambda row: f"{row['queries']}")
    yield ""
    yield from table(files, head="file: time, size, growth of the process", said=file_cost)
    season = [row for row in rows if "gap" in row]
    if season:
        yield ""
        yield "| season plan | seats filled | gap | time | processor |"
        yield "| --- | ---: | ---: | ---: | ---: |"
    for row in season:
        yield (
            f"| {row['name'].removeprefix('season plan of ')} | {row['seated']:,} of {row['wanted']:,} | {row['gap']:.2%} | "
            f"{duration(row['median_ms'])} | {duration(row['cpu_ms'])} |"
        )


def page_with(text: str, rows: Sequence[Row]) -> str:
    """Return the page with its figures made again."""
    before, _, rest = text.partition(BEGINS)
    return before + BEGINS + "\n" + "\n".join(figures(rows)) + "\n\n" + ENDS + rest.partition(ENDS)[2]


def chart(rows: Sequence[Row]) -> str:
    """Return the later answers of some pages as SVG, both scales by powers of ten; the same rows, the same text."""
    style = pygal.style.Style(
        background="white", plot_background="white", colors=COLORS, font_family="sans-serif", label_font_size=12,
        major_label_font_size=12, legend_font_size=12, title_font_size=14,
    )  # fmt: skip
    largest = max(row["size"] for row in rows if "grown_mb" in row)
    sizes = [size for size in SIZES if size <= largest]  # what lies between two that were measured is drawn through
    drawing = pygal.Line(
        style=style, js=(), no_prefix=True, width=900, height=460, logarithmic=True, legend_at_bottom=True,
        legend_at_bottom_columns=3, title="Milliseconds of a later answer, by instruments in the district",
        value_formatter=lambda value: f"{value:,.0f} ms", disable_xml_declaration=True, include_x_axis=False,
    )  # fmt: skip
    drawing.x_labels = [f"{size:,}" for size in sizes]
    for name in DRAWN:
        at = {row["size"]: row["later_cpu_ms"] for row in rows if row["name"] == name and "grown_mb" in row}
        if at:
            drawing.add(name, [at.get(size) for size in sizes])
    drawn = re.sub(r"<script.*?</script>", "", drawing.render(is_unicode=True), flags=re.DOTALL)
    return f"{drawn}\n"


def main(files: Iterable[str]) -> None:
    measured = [row for file in files for row in json.loads(Path(file).read_text(encoding="utf-8"))]
    if measured:
        DATA.write_text(f"{json.dumps(measured, indent=1)}\n", encoding="utf-8")
    rows = json.loads(DATA.read_text(encoding="utf-8"))
    PAGE.write_text(page_with(PAGE.read_text(encoding="utf-8"), rows), encoding="utf-8")
    CHART.write_text(chart(rows), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
