"""The rows that could not come in, as a table to put right and send again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from core.sheets.cells import CellTrouble, SheetRow
from inventory.rules.intake.fields import MARK_COLUMN, PROBLEM_COLUMN, ROW_COLUMN, own_columns
from inventory.rules.intake.judge import RowJudgement, row_mark

OutCell = str | int | date


@dataclass(frozen=True, slots=True)
class ProblemSheet:
    """A header and its rows, for ``core.sheets.write_csv`` or ``write_xlsx``."""

    header: tuple[str, ...]
    rows: tuple[tuple[OutCell, ...], ...]


def problem_sheet(
    *, header: Sequence[str], rows: Iterable[SheetRow], judgements: Iterable[RowJudgement]
) -> ProblemSheet:
    """Return the problem rows with their original columns, then row number, reason and mark.

    The mark stays the same when a row comes back still wrong, so that it is known however often it is sent.
    """
    problems = {judgement.number: judgement for judgement in judgements if judgement.problems}
    own = own_columns(header)
    kept = [index for index in range(len(header)) if index not in own]
    mark_index = list(header).index(MARK_COLUMN) if MARK_COLUMN in header else None
    return ProblemSheet(
        header=(*(header[index] for index in kept), ROW_COLUMN, PROBLEM_COLUMN, MARK_COLUMN),
        rows=tuple(_rows(rows, problems, kept, mark_index)),
    )


def _rows(
    rows: Iterable[SheetRow], problems: dict[int, RowJudgement], kept: Sequence[int], mark_index: int | None
) -> Iterator[tuple[OutCell, ...]]:
    for row in rows:
        judgement = problems.get(row.number)
        if judgement is None:
            continue
        cells = [row.cells[index] if index < len(row.cells) else "" for index in kept]
        mark = str(row.cells[mark_index]) if mark_index is not None and mark_index < len(row.cells) else ""
        why = " ".join(
            f"{problem.column}: {problem.reason}" if problem.column else problem.reason
            for problem in judgement.problems
        )
        plain = ("" if isinstance(cell, CellTrouble) else cell for cell in cells)
        yield (*plain, row.number, why, mark or row_mark(row))
