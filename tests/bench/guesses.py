"""How often diagnosis and promised minutes are right, and what learning saves."""

from __future__ import annotations

from collections.abc import Iterator

from inventory.catalog.load import catalog
from tests.bench.judging import diagnosis
from tests.bench.planning import day_lines, learning_lines
from tests.bench.sections import Run


def section(run: Run) -> Iterator[str]:
    yield from diagnosis(kinds=6 if run.is_quick else None)
    yield from day_lines(quick=run.is_quick)
    yield from learning_lines(catalog(), quick=run.is_quick)
