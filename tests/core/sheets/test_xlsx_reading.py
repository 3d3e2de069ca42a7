"""Workbooks, sound and unsound."""

from __future__ import annotations

import contextlib
import io
import re
import zipfile
from datetime import date, datetime
from typing import Any

import pytest
from defusedxml.ElementTree import iterparse
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.worksheet._reader import DATA_TAG

from core.sheets import CellTrouble, SheetRefusedError, read_sheet, xlsx_reading
from core.sheets.xlsx_reading import open_workbook, xlsx_rows
from tests.core.sheets.files import archive_of, make_xlsx, rewritten, saved


def test_a_formula_gives_its_stored_value_or_says_that_it_has_none():
    plain = make_xlsx([["Kind", "Serial", "Cost"], ["Trumpet", "A1", "=100*2"], ["Flute", "A2", "=1+1"]])

    def first_calculated(xml: bytes) -> bytes:
        changed = xml.replace(b"<f>100*2</f><v></v>", b"<f>100*2</f><v>200</v>")
        changed = changed.replace(b"<f>100*2</f><v />", b"<f>100*2</f><v>200</v>")
        assert changed != xml
        return changed

    data = rewritten(plain, "xl/worksheets/sheet1.xml", first_calculated)
    first, second = read_sheet(data=data, filename="a.xlsx").rows
    assert first.cells == ("Trumpet", "A1", "200")
    assert second.cells == ("Flute", "A2", CellTrouble("a formula without a value"))


def test_an_error_in_a_cell_is_told_and_not_taken_for_text():
    book = Workbook()
    sheet = book.active
    sheet.append(["Kind", "Serial"])
    sheet.append(["Trumpet", "#REF!"])
    sheet["B2"].data_type = "e"
    (row,) = read_sheet(data=saved(book), filename="a.xlsx").rows
    assert row.cells[1] == CellTrouble("the error #REF!")


def test_numbers_look_as_the_workbook_shows_them():
    book = Workbook()
    sheet = book.active
    sheet.append(["Kind", "Serial", "Cost", "Share", "Sum", "Big"])
    sheet.append(["Trumpet", 123, 1234.50, 0.8, 0.1 + 0.2, 123456789012])
    sheet["B2"].number_format = "00000"
    sheet["D2"].number_format = "0%"
    (row,) = read_sheet(data=saved(book), filename="a.xlsx").rows
    assert row.cells == ("Trumpet", "00123", "1234.5", "80%", "0.3", "123456789012")


def test_dates_and_moments_become_dates():
    data = make_xlsx([["Kind", "On", "At"], ["Trumpet", date(2019, 8, 1), datetime(2019, 8, 1, 13, 5)]])  # noqa: DTZ001
    (row,) = read_sheet(data=data, filename="a.xlsx").rows
    assert row.cells == ("Trumpet", date(2019, 8, 1), date(2019, 8, 1))
    assert type(row.cells[2]) is date


def test_text_that_begins_with_an_equals_sign_stays_text_in_a_workbook():
    book = Workbook()
    sheet = book.active
    sheet.append(["Kind", "Notes"])
    sheet.append(["Trumpet", "x"])
    sheet["B2"].value = "=dented"
    sheet["B2"].data_type = "s"
    (row,) = read_sheet(data=saved(book), filename="a.xlsx").rows
    assert row.cells == ("Trumpet", "=dented")


def test_a_wrong_size_written_in_the_workbook_loses_no_rows():
    data = make_xlsx([["Kind", "Serial"], ["Trumpet", 1], ["Flute", 2]])
    data = rewritten(data, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b'ref="A1:B3"', b'ref="A1"'))
    assert len(list(read_sheet(data=data, filename="a.xlsx").rows)) == 2


def test_a_cell_in_a_style_that_is_not_there_is_damage():
    data = make_xlsx([["Kind", "Serial"], ["Trumpet", 1]])
    data = rewritten(
        data, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b'<c r="B2" t="n">', b'<c r="B2" s="99" t="n">')
    )
    with pytest.raises(SheetRefusedError, match="damaged"):
        list(read_sheet(data=data, filename="a.xlsx").rows)


SOUND = make_xlsx(
    [["Kind", "Serial", "Cost"], *(["Trumpet", number, "=1+1"] for number in range(20))], merged=["A3:A5"]
)


@settings(max_examples=60)
@given(st.integers(0, len(SOUND) - 1), st.binary(min_size=1, max_size=40), st.integers(0, 60))
def test_a_file_damaged_anywhere_is_read_or_refused_and_nothing_else(position, junk, lost):
    data = SOUND[:position] + junk + SOUND[position + lost :]
    with contextlib.suppress(SheetRefusedError):
        list(read_sheet(data=data, filename="a.xlsx").rows)


def test_a_workbook_that_unpacks_to_far_too_much_is_refused_unread():
    bomb = archive_of(**{"xl__workbook.xml": b"<a/>", "xl__sharedStrings.xml": b" " * (41 * 2**20)})
    assert len(bomb) < 100_000
    with pytest.raises(SheetRefusedError, match="unpacks"):
        read_sheet(data=bomb, filename="a.xlsx")


def test_a_row_that_unpacks_to_millions_of_cells_is_refused_before_it_is_parsed():
    data = make_xlsx([["Kind", "Serial"], ["Trumpet", 1]])
    data = rewritten(
        data, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b"</row>", b"<c/>" * (2 * 2**20) + b"</row>", 1)
    )
    assert len(data) < 100_000
    with pytest.raises(SheetRefusedError, match="unpacks"):
        read_sheet(data=data, filename="a.xlsx")


def test_a_stray_cell_far_out_does_not_widen_the_table():
    book = Workbook()
    book.active.append(["Kind", "Serial"])
    book.active.append(["Trumpet", 1])
    book.active["XFD2"] = "stray"
    (row,) = read_sheet(data=saved(book), filename="a.xlsx").rows
    assert row.cells == ("Trumpet", "1")


def test_a_stray_cell_far_down_keeps_its_row_number():
    book = Workbook()
    book.active.append(["Kind", "Serial"])
    book.active["A3000"] = "Trumpet"
    book.active["B3000"] = 1
    (row,) = read_sheet(data=saved(book), filename="a.xlsx").rows
    assert row.number == 3000


def test_a_workbook_whose_main_part_has_another_number_is_read():
    data = make_xlsx([["Kind", "Serial"], ["Trumpet", 1]])
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for entry in old.infolist():
            content = old.read(entry).replace(b"xl/workbook.xml", b"xl/workbook2.xml")
            new.writestr(entry.filename.replace("workbook.xml", "workbook2.xml"), content)
    assert len(list(read_sheet(data=out.getvalue(), filename="a.xlsx").rows)) == 1


def test_a_workbook_with_its_own_entities_is_refused():
    data = make_xlsx([["Kind", "Serial"], ["Trumpet", 1]])
    lol = b'<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY lol "lol">]><a>&lol;</a>'
    data = rewritten(data, "xl/workbook.xml", lambda _: lol)
    with pytest.raises(SheetRefusedError, match="not a spreadsheet"):
        read_sheet(data=data, filename="a.xlsx")


def test_a_zip_archive_with_a_password_is_refused():
    data = bytearray(make_xlsx([["Kind", "Serial"], ["Trumpet", 1]]))
    central = data.find(b"PK\x01\x02")
    data[central + 8] |= 1
    with pytest.raises(SheetRefusedError, match="password"):
        read_sheet(data=bytes(data), filename="a.xlsx")


def test_a_worksheet_cut_off_in_the_middle_is_refused_and_not_half_read():
    rows = [["Kind", "Serial"], *(["Trumpet", number] for number in range(2000))]
    data = rewritten(make_xlsx(rows), "xl/worksheets/sheet1.xml", lambda xml: xml[: len(xml) // 2])
    with pytest.raises(SheetRefusedError, match="damaged"):
        list(read_sheet(data=data, filename="a.xlsx").rows)


def test_the_last_line_is_known_before_the_rows_are_read():
    rows = [["Instrument", "Make"], *(["Tpt", "Plain"] for _ in range(40))]
    data = make_xlsx(rows)
    assert read_sheet(data=data, filename="a.xlsx").last_line == 41
    unnumbered = rewritten(data, "xl/worksheets/sheet1.xml", lambda text: re.sub(rb'<row r="\d+"', b"<row", text))
    assert read_sheet(data=unnumbered, filename="a.xlsx").last_line == 0


def test_a_row_whose_number_was_given_before_or_cannot_be_is_left_out():
    data = make_xlsx([["Kind", "Serial"], ["Trumpet", 1], ["Flute", 2], ["Oboe", 3], ["Tuba", 4]])

    def renumbered(xml: bytes) -> bytes:
        return xml.replace(b'<row r="3"', b'<row r="2"').replace(b'<row r="5"', b'<row r="1048577"')

    data = rewritten(data, "xl/worksheets/sheet1.xml", renumbered)
    assert [row.number for row in read_sheet(data=data, filename="a.xlsx").rows] == [2, 4]


SHEET = "xl/worksheets/sheet1.xml"


def after_rows(extra: bytes, *, rows: bytes = b"") -> bytes:
    """Return a workbook of three rows, more rows as written, and what is written after them."""
    data = make_xlsx([["Kind", "Serial"], ["Trumpet", 1], ["Flute", 2]])
    return rewritten(data, SHEET, lambda xml: xml.replace(b"</sheetData>", rows + b"</sheetData>" + extra))


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(after_rows(b"<x/>" * 600_000), id="elements after the rows"),
        pytest.param(after_rows(b"", rows=b"<x/>" * 300_000), id="elements between two rows"),
        pytest.param(
            after_rows(b'<mergeCells><mergeCell ref="A1:B2"/>' + b"".join(b'<mergeCell ref="A%d:C%d"/>' % (n, n) for n in range(1, 20_002)) + b"</mergeCells>"),
            id="merged areas",
        ),
    ],
)  # fmt: skip
def test_a_worksheet_holds_little_beside_its_rows(data):
    with pytest.raises(SheetRefusedError, match="unpacks"):
        read_sheet(data=data, filename="a.xlsx")


def test_what_stands_in_a_comment_does_not_pass_for_a_row():
    data = after_rows(b"", rows=b"<row>" + b"<c/>" * 60_000 + b"<!--<row >-->" + b"<c/>" * 60_000 + b"</row>")
    with pytest.raises(SheetRefusedError, match="not a spreadsheet"):
        read_sheet(data=data, filename="a.xlsx")


def test_a_comment_above_the_rows_is_none_of_our_business():
    data = rewritten(
        make_xlsx([["Kind"], ["Tuba"]]), SHEET, lambda xml: xml.replace(b"<sheetData>", b"<!--x--><sheetData>")
    )
    assert len(list(read_sheet(data=data, filename="a.xlsx").rows)) == 1


def test_rows_are_forgotten_once_they_are_read(monkeypatch):
    """However many rows there are, the tree holds no more of them than the parser was fed at once."""
    rows = b"".join(b'<row r="%d"><c r="A%d"><v>1</v></c></row><x/>' % (number, number) for number in range(4, 20_000))
    book = open_workbook(after_rows(b"", rows=rows))
    trees: list[Any] = []

    def watched(source: Any, events: Any) -> Any:
        for event, element in iterparse(source, events):
            if event == "start" and element.tag == DATA_TAG:
                trees.append(element)
            yield event, element

    monkeypatch.setattr(xlsx_reading, "iterparse", watched)
    held = [len(trees[0]) for _ in xlsx_rows(book, "Band")]
    assert max(held) < 2_000  # what the parser was fed at once, of 40,000 elements


@pytest.mark.parametrize("sheets", [101, 2])
def test_a_workbook_of_many_sheets_or_of_one_twice_is_refused(sheets):
    sheet = b'<sheet name="s%d" sheetId="%d" r:id="rId1" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"/>'
    more = b"".join(sheet % (number, number + 9) for number in range(sheets))
    data = rewritten(
        make_xlsx([["Kind"], ["Tuba"]]), "xl/workbook.xml", lambda xml: xml.replace(b"</sheets>", more + b"</sheets>")
    )
    with pytest.raises(SheetRefusedError, match="unpacks"):
        read_sheet(data=data, filename="a.xlsx")
