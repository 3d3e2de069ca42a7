"""Files for the tests beside this one, built byte by byte."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from typing import Any

from openpyxl import Workbook

from core.sheets import read_sheet

WORDS = {"instrument", "make", "serial #", "date", "cost", "serial", "inst.", "brand", "tag"}


def is_heading(text: str) -> bool:
    return text.casefold() in WORDS


def make_xlsx(rows: Sequence[Sequence[Any]], *, merged: Sequence[str] = (), title: str = "Band") -> bytes:
    book = Workbook()
    sheet = book.active
    sheet.title = title
    for row in rows:
        sheet.append(list(row))
    for area in merged:
        sheet.merge_cells(area)
    return saved(book)


def saved(book: Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def rewritten(data: bytes, part: str, change: Any) -> bytes:
    """Return the archive with one part changed, as another program would have written it."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            content = old.read(entry)
            new.writestr(entry.filename, change(content) if entry.filename == part else content)
    return out.getvalue()


def archive_of(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name.replace("__", "/"), content)
    return out.getvalue()


def cells_of(data: bytes, filename: str = "list.csv") -> list[tuple[Any, ...]]:
    return [row.cells for row in read_sheet(data=data, filename=filename).rows]
