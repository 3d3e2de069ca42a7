"""What a workbook's file may hold, whatever its parts are called: checked before anything of it is parsed.

A part's name says nothing: the workbook itself says which part is read as what, so every part is measured. Limits are
on bytes and on marks of XML, because both cost memory and time: one element takes some hundred bytes of memory.
"""

from __future__ import annotations

import re
import zipfile
from collections import defaultdict
from collections.abc import Iterator
from typing import IO, Any, Final

from defusedxml.ElementTree import fromstring
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from openpyxl.packaging.manifest import Manifest
from openpyxl.xml.constants import ARC_CONTENT_TYPES, ARC_STYLE, ARC_WORKBOOK, SHARED_STRINGS, WORKSHEET_TYPE

from core.exceptions import SheetRefusedError

MOST_PARTS: Final = 2_000
LARGEST_SHEET: Final = 80 * 2**20  # bytes of one worksheet when unpacked; 50,000 rows stay below
LARGEST_SIDE_PART: Final = 8 * 2**20  # bytes of styles and the like, which are held in memory
LARGEST_TEXTS: Final = 40 * 2**20  # bytes of the texts that worksheets share
LARGEST_BOOK: Final = 2 * LARGEST_SHEET  # bytes of all parts together
MOST_MARKS: Final = 300_000  # "<" and "=" in all parts that are held in memory, shared texts apart
MOST_MARKS_OF_TEXTS: Final = 2_000_000
CHUNK: Final = 2**18  # bytes

_MAIN_PART = re.compile(r"xl/(workbook\d*\.xml)")
_DOCTYPE = re.compile(rb"<!\s*(?:DOCTYPE|ENTITY)", re.IGNORECASE)
_BYTE_ORDER_MARKS: Final = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")

NOT_A_WORKBOOK: Final = gettext_lazy(
    "This is not a spreadsheet this page can read. Open it, save it as .xlsx or .csv, and send that."
)
DAMAGED: Final = gettext_lazy(
    "The workbook is damaged and cannot be read. Open it, save a fresh copy as .xlsx, and send that."
)
UNPACKS_TOO_LARGE: Final = gettext_lazy(
    "The workbook unpacks to far more than an inventory needs, so it was not opened. "
    "Copy the rows into a new workbook or save the sheet as .csv."
)


def refuse_unsafe(archive: zipfile.ZipFile) -> None:
    """Raise SheetRefusedError if reading the workbook would take more than an inventory needs, or it is none."""
    entries = archive.infolist()
    names = {entry.filename for entry in entries}
    if any(entry.flag_bits & 0x1 for entry in entries):
        raise SheetRefusedError(_("The file is password-protected. Save a copy without the password and send that."))
    if not any(map(_MAIN_PART.fullmatch, names)):
        raise SheetRefusedError(_other_archive(names))
    if len(names) < len(entries):
        raise SheetRefusedError(str(DAMAGED))
    if len(entries) > MOST_PARTS or sum(entry.file_size for entry in entries) > LARGEST_BOOK:
        raise SheetRefusedError(str(UNPACKS_TOO_LARGE))
    _refuse_large_parts(archive, entries)


def _refuse_large_parts(archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo]) -> None:
    kinds: dict[str, set[str]] = {}
    marks = 0
    # The content types first: they say what the others are.
    for entry in sorted(entries, key=lambda entry: entry.filename != ARC_CONTENT_TYPES):
        kind = kinds.get(entry.filename, set())
        if kind == {WORKSHEET_TYPE} and not _is_found_by_name(entry.filename):
            if entry.file_size > LARGEST_SHEET:
                raise SheetRefusedError(str(UNPACKS_TOO_LARGE))
            continue  # read row by row, and measured then
        is_texts = kind == {SHARED_STRINGS}
        count = _marks(archive, entry, most_bytes=LARGEST_TEXTS if is_texts else LARGEST_SIDE_PART)
        marks += 0 if is_texts else count
        if marks > MOST_MARKS or count > MOST_MARKS_OF_TEXTS:
            raise SheetRefusedError(str(UNPACKS_TOO_LARGE))
        if entry.filename == ARC_CONTENT_TYPES:
            kinds = _kinds(archive.read(entry))


def _is_found_by_name(name: str) -> bool:
    """Whether it is held in memory whatever it is declared as: styles, the workbook, relations."""
    return name in {ARC_CONTENT_TYPES, ARC_STYLE, ARC_WORKBOOK} or name.endswith(".rels")


def _marks(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, *, most_bytes: int) -> int:
    """Return how many "<" and "=" the part holds; 0 if no parser would go beyond its first byte (a picture)."""
    count, is_first = 0, True
    with archive.open(entry) as part:
        for chunk in chunks(part):
            if is_first and not _is_markup(chunk):
                return 0
            if is_first and entry.file_size > most_bytes:
                raise SheetRefusedError(str(UNPACKS_TOO_LARGE))
            if is_first and _DOCTYPE.search(chunk[:8192].replace(b"\x00", b"")):
                raise SheetRefusedError(str(NOT_A_WORKBOOK))
            count, is_first = count + chunk.count(b"<") + chunk.count(b"="), False
    return count


def chunks(part: IO[bytes]) -> Iterator[bytes]:
    while chunk := part.read(CHUNK):
        yield chunk


def _is_markup(chunk: bytes) -> bool:
    for mark in _BYTE_ORDER_MARKS:
        chunk = chunk.removeprefix(mark)
    return chunk.lstrip(b" \t\r\n\x00")[:1] in {b"<", b""}


def _kinds(content_types: bytes) -> dict[str, set[str]]:
    """Return what each part is declared as; one declared as several things gets the limits of none of them."""
    kinds: dict[str, set[str]] = defaultdict(set)
    package: Any = Manifest.from_tree(fromstring(content_types))
    for override in package.Override:
        kinds[override.PartName.removeprefix("/")].add(override.ContentType)
    return kinds


def _other_archive(names: set[str]) -> str:
    if "xl/workbook.bin" in names:
        return _("This is a binary workbook (.xlsb). Open it, save it as .xlsx, and send that.")
    if "content.xml" in names:
        return _("This is an OpenDocument file. Open it, save it as .xlsx or .csv, and send that.")
    return str(NOT_A_WORKBOOK)
