"""Workbooks that would take more memory or time than any inventory: refused before they are parsed."""

from __future__ import annotations

import io
import zipfile

import pytest

from core.sheets import SheetRefusedError, read_sheet, xlsx_package
from tests.core.sheets.files import archive_of, make_xlsx, rewritten

SOUND = make_xlsx([["Kind", "Serial"], ["Trumpet", 1], ["Flute", 2]])
TYPES, STYLES, STRINGS = "[Content_Types].xml", "xl/styles.xml", "xl/sharedStrings.xml"
OF_SHEETS = b"application/vnd.openxmlformats-officedocument.spreadsheetml.%s+xml"


def refused(data: bytes, match: str = "unpacks") -> None:
    with pytest.raises(SheetRefusedError, match=match):
        list(read_sheet(data=data, filename="a.xlsx").rows)


def with_part(data: bytes, name: str, content: bytes) -> bytes:
    out = io.BytesIO(data)
    with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return out.getvalue()


def test_shared_texts_are_measured_under_any_name():
    """The name of a part says nothing: the list of content types says what is read as the texts."""
    renamed = rewritten(SOUND, TYPES, lambda xml: xml.replace(STRINGS.encode(), b"xl/pictures.png"))
    refused(with_part(renamed, "xl/pictures.png", b"<sst>" + b"<si><t>a</t></si>" * 600_000 + b"</sst>"))


@pytest.mark.parametrize("part", [STYLES, "xl/workbook.xml", TYPES, "docProps/core.xml", "xl/theme/theme1.xml"])
def test_a_part_held_in_memory_may_have_few_elements(part):
    refused(rewritten(SOUND, part, lambda xml: xml[: xml.rindex(b"</")] + b"<x/>" * 300_001 + xml[xml.rindex(b"</") :]))


def test_many_small_parts_are_counted_together(monkeypatch):
    monkeypatch.setattr(xlsx_package, "MOST_MARKS", 5_000)
    data = SOUND
    for number in range(6):
        data = with_part(data, f"xl/more{number}.xml", b"<a>" + b"<x/>" * 900 + b"</a>")
    refused(data)


def test_styles_that_call_themselves_a_worksheet_are_measured_as_styles():
    called = rewritten(SOUND, TYPES, lambda xml: xml.replace(OF_SHEETS % b"styles", OF_SHEETS % b"worksheet"))
    refused(rewritten(called, STYLES, lambda xml: xml.replace(b"</cellXfs>", b"<xf/>" * 300_001 + b"</cellXfs>")))


def test_a_part_declared_as_two_things_has_the_limits_of_neither():
    twice = b'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="%s"/></Types>' % (
        OF_SHEETS % b"sharedStrings"
    )
    data = rewritten(SOUND, TYPES, lambda xml: xml.replace(b"</Types>", twice))
    refused(rewritten(data, "xl/worksheets/sheet1.xml", lambda xml: xml + b"<!-- -->" + b" " * (8 * 2**20)))


def test_too_many_parts_and_parts_of_one_name_are_refused():
    out = io.BytesIO(SOUND)
    with zipfile.ZipFile(out, "a") as archive:
        for number in range(xlsx_package.MOST_PARTS):
            archive.writestr(f"xl/{number}.bin", b"")
    refused(out.getvalue())
    with pytest.warns(UserWarning, match="Duplicate"):
        twice = with_part(SOUND, STYLES, b"<a/>")
    refused(twice, match="damaged")


def test_all_parts_together_have_a_limit(monkeypatch):
    monkeypatch.setattr(xlsx_package, "LARGEST_BOOK", 2**20)
    refused(with_part(SOUND, "xl/media/image1.png", b"\x89PNG" + bytes(2**20)))


def test_a_picture_is_not_taken_for_markup():
    data = with_part(SOUND, "xl/media/image1.png", b"\x89PNG" + b"<" * 400_000)
    assert len(list(read_sheet(data=data, filename="a.xlsx").rows)) == 2


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_document_type_is_refused_in_any_encoding(encoding):
    lol = '<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY lol "lol">]><a>&lol;</a>'.encode(encoding)
    refused(rewritten(SOUND, STYLES, lambda _: lol), match="not a spreadsheet")


def test_what_is_another_archive_is_told_apart():
    refused(archive_of(content__xml=b"", **{"content.xml": b"<a/>"}), match="OpenDocument")
