"""Files as schools really have them, built here byte by byte."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from core.sheets import CellTrouble, SheetRefusedError, read_sheet, reading

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


def cells_of(data: bytes, filename: str = "list.csv") -> list[tuple[Any, ...]]:
    return [row.cells for row in read_sheet(data=data, filename=filename).rows]


@pytest.mark.parametrize(
    ("encoding", "read_as"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8-sig"),
        ("utf-16", "utf-16"),
        ("utf-16-le", "utf-16-le"),
        ("utf-16-be", "utf-16-be"),
        ("latin-1", "cp1252"),
        ("cp1252", "cp1252"),
    ],
)
def test_accents_survive_every_encoding(encoding, read_as):
    data = "Kind,Maker,Serial\nFlûte,Müller & Söhne,0012\n".encode(encoding)
    sheet = read_sheet(data=data, filename="liste.csv")
    assert sheet.header == ("Kind", "Maker", "Serial")
    assert [row.cells for row in sheet.rows] == [("Flûte", "Müller & Söhne", "0012")]
    assert sheet.encoding == read_as


def test_a_file_pasted_from_two_encodings_keeps_both_accents():
    data = "Kind,Room\nFlûte,A\n".encode() + "Oboe,Théâtre\n".encode("latin-1")
    assert cells_of(data) == [("Flûte", "A"), ("Oboe", "Théâtre")]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_separator_is_found_although_others_occur_in_the_text(delimiter):
    lines = [["Kind", "Notes", "Cost"], ["Trumpet", 'dents, a "few"; worn', "1200"], ["Flute", "fine, really", "5"]]
    data = "\n".join(delimiter.join(f'"{cell.replace(chr(34), chr(34) * 2)}"' for cell in line) for line in lines)
    sheet = read_sheet(data=data.encode(), filename="a.txt")
    assert sheet.delimiter == delimiter
    assert next(sheet.rows).cells == ("Trumpet", 'dents, a "few"; worn', "1200")


def test_decimal_commas_do_not_pass_for_separators():
    data = b"Kind;Cost;Value\nTrumpet;1.234,50;12,00\nFlute;99,00;1,00\nOboe;2.000,00;3,00\n"
    assert cells_of(data)[0] == ("Trumpet", "1.234,50", "12,00")


def test_a_line_that_names_the_separator_is_obeyed_and_left_out():
    sheet = read_sheet(data=b"sep=|\nKind|Serial\nTrumpet|1,2\n", filename="a.csv")
    assert (sheet.header, sheet.header_row_number) == (("Kind", "Serial"), 2)
    assert [row.number for row in sheet.rows] == [3]


def test_row_numbers_are_those_of_the_spreadsheet_program():
    data = b'\r\nKind,Notes\r\n\r\nTrumpet,"two\r\nlines"\r\n,,\r\nFlute,ok\r\n'
    sheet = read_sheet(data=data, filename="a.csv")
    assert sheet.header_row_number == 2
    assert [row.number for row in sheet.rows] == [4, 6]


def test_old_macintosh_line_ends_are_read():
    assert cells_of(b"Kind,Serial\rTrumpet,12\rFlute,13\r") == [("Trumpet", "12"), ("Flute", "13")]


def test_titles_above_the_header_are_skipped():
    data = b"Maple Hollow Band Inventory,,,\nPrinted 8/1/2023,,,\n,,,\nKind,Maker,Serial,Cost\nTrumpet,X,1,5\n"
    sheet = read_sheet(data=data, filename="a.csv")
    assert (sheet.header, sheet.header_row_number) == (("Kind", "Maker", "Serial", "Cost"), 4)


def test_a_table_without_header_gets_letters():
    sheet = read_sheet(data=b"Trumpet,Maker A,123,8/1/2019\nFlute,Maker B,456,8/2/2019\n", filename="a.csv")
    assert (sheet.header_row_number, sheet.header[0]) == (0, "Column A")
    assert len(list(sheet.rows)) == 2


def test_known_headings_decide_which_row_is_the_header():
    data = b"Owner,Band Office,Phone\nInst.,Brand,Tag\nTrumpet,Maker A,12\nFlute,Maker B,13\n"
    assert read_sheet(data=data, filename="a.csv", is_heading=is_heading).header == ("Inst.", "Brand", "Tag")


def test_all_text_rows_are_not_taken_for_a_second_line_of_the_header():
    data = b"Instrument,,Serial\nTrumpet,old,A12\nFlute,new,B13\n"
    sheet = read_sheet(data=data, filename="a.csv", is_heading=is_heading)
    assert sheet.header_row_number == 1
    assert len(list(sheet.rows)) == 2


def test_a_group_line_above_the_header_of_a_text_file_joins_it():
    data = b"Instrument,,,Purchase,\nInst.,Brand,Tag,Date,Cost\nTrumpet,X,12,8/1/2019,$5\n"
    sheet = read_sheet(data=data, filename="a.csv", is_heading=is_heading)
    assert sheet.header == ("Instrument Inst.", "Instrument Brand", "Instrument Tag", "Purchase Date", "Purchase Cost")
    assert sheet.header_row_number == 2


def test_merged_header_cells_of_two_lines_are_joined():
    data = make_xlsx(
        [
            ["Maple Hollow Middle School", None, None, None, None],
            [],
            ["Instrument", "Make", "Serial #", "Purchase", None],
            [None, None, None, "Date", "Cost"],
            ["Trumpet", "Maker A", 12345.0, date(2019, 8, 1), 512.5],
            ["Clarinet", "Maker B", "00123", date(2020, 8, 1), 400],
        ],
        merged=["A1:E1", "A3:A4", "B3:B4", "C3:C4", "D3:E3"],
    )
    for known in (None, is_heading):
        sheet = read_sheet(data=data, filename="a.xlsx", is_heading=known)
        assert sheet.header == ("Instrument", "Make", "Serial #", "Purchase Date", "Purchase Cost")
        assert sheet.header_row_number == 4
        assert [row.cells for row in sheet.rows] == [
            ("Trumpet", "Maker A", "12345", date(2019, 8, 1), "512.5"),
            ("Clarinet", "Maker B", "00123", date(2020, 8, 1), "400"),
        ]


def test_a_section_title_merged_across_the_table_is_no_row():
    data = make_xlsx(
        [["Kind", "Maker", "Serial"], ["BRASS"], ["Trumpet", "X", 1], ["WOODWIND"], ["Flute", "Y", 2]],
        merged=["A2:C2", "A4:C4"],
    )
    assert [row.number for row in read_sheet(data=data, filename="a.xlsx").rows] == [3, 5]


def test_a_value_merged_over_several_rows_belongs_to_each():
    data = make_xlsx(
        [["Kind", "Maker", "Serial"], ["Trumpet", "X", 1], [None, "X", 2], [None, "Y", 3], ["Flute", "Y", 4]],
        merged=["A2:A4"],
    )
    kinds = [row.cells[0] for row in read_sheet(data=data, filename="a.xlsx").rows]
    assert kinds == ["Trumpet", "Trumpet", "Trumpet", "Flute"]


def test_a_header_repeated_on_every_printed_page_is_no_row():
    data = b"Kind,Serial\nTrumpet,1\nKind,Serial\nFlute,2\n"
    assert cells_of(data) == [("Trumpet", "1"), ("Flute", "2")]


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


def test_formulas_written_in_a_text_file_are_told_and_quoted_numbers_are_read():
    assert cells_of(b'Kind,Serial,Cost\nTrumpet,"=""00123""",=A1*2\n') == [
        ("Trumpet", "00123", CellTrouble("a formula without a value"))
    ]


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


def test_the_first_worksheet_with_a_table_is_taken_and_others_can_be_asked_for():
    book = Workbook()
    book.active.title = "Read me"
    book.active.append(["Fill in the next sheet."])
    horns = book.create_sheet("Horns")
    horns.append(["Kind", "Serial"])
    horns.append(["Trumpet", 1])
    drums = book.create_sheet("Drums")
    drums.append(["Kind", "Serial"])
    drums.append(["Snare", 2])
    hidden = book.create_sheet("Old", 0)
    hidden.append(["Kind", "Serial"])
    hidden.append(["Tuba", 9])
    hidden.sheet_state = "hidden"
    data = saved(book)
    sheet = read_sheet(data=data, filename="a.xlsx")
    assert sheet.name == "Horns"
    assert set(sheet.other_names) == {"Read me", "Drums", "Old"}
    assert next(read_sheet(data=data, filename="a.xlsx", worksheet="Drums").rows).cells == ("Snare", "2")
    with pytest.raises(SheetRefusedError, match="no worksheet named “Reeds”"):
        read_sheet(data=data, filename="a.xlsx", worksheet="Reeds")


def test_a_wrong_size_written_in_the_workbook_loses_no_rows():
    data = make_xlsx([["Kind", "Serial"], ["Trumpet", 1], ["Flute", 2]])
    data = rewritten(data, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b'ref="A1:B3"', b'ref="A1"'))
    assert len(list(read_sheet(data=data, filename="a.xlsx").rows)) == 2


def test_trailing_empty_columns_are_trimmed():
    data = b"Kind,Serial,,,\nTrumpet,1,,,\n"
    sheet = read_sheet(data=data, filename="a.csv")
    assert sheet.header == ("Kind", "Serial")
    assert next(sheet.rows).cells == ("Trumpet", "1")


def test_a_path_is_read_like_bytes(tmp_path: Path):
    path = tmp_path / "a.csv"
    path.write_bytes(b"Kind,Serial\nTrumpet,1\n")
    sheet = read_sheet(data=path, filename="C:\\Users\\x\\Band list.csv")
    assert sheet.name == "Band list"


def test_the_sample_does_not_use_up_the_rows():
    data = "Kind,Serial\n" + "".join(f"Trumpet,{number}\n" for number in range(120))
    sheet = read_sheet(data=data.encode(), filename="a.csv")
    assert len(sheet.sample) == 50
    assert [row.cells[1] for row in sheet.rows] == [str(number) for number in range(120)]


def archive_of(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name.replace("__", "/"), content)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        pytest.param(b"", "empty", id="nothing"),
        pytest.param(b" \r\n", "empty", id="blank"),
        pytest.param(b"%PDF-1.7\nxyz", "PDF", id="pdf named csv"),
        pytest.param(b"\x89PNG\r\n\x1a\n", "picture", id="picture"),
        pytest.param(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "old workbook", id="old xls"),
        pytest.param(b"\xd0\xcf\x11\xe0" + "EncryptedPackage".encode("utf-16-le"), "password", id="encrypted"),
        pytest.param(b"<html><table><tr><td>Kind</td></tr></table>", "web page", id="web page named xls"),
        pytest.param(b"PK\x03\x04garbage", "damaged", id="cut off"),
        pytest.param(archive_of(**{"content.xml": b"<a/>"}), "OpenDocument", id="ods"),
        pytest.param(archive_of(**{"xl__workbook.bin": b"x"}), "xlsb", id="binary workbook"),
        pytest.param(archive_of(**{"word__document.xml": b"<a/>"}), "not a spreadsheet", id="text document"),
        pytest.param(archive_of(**{"xl__workbook.xml": b"<a/>"}), "damaged", id="half a workbook"),
        pytest.param(bytes(range(256)) * 8, "not a spreadsheet", id="any bytes"),
        pytest.param(b"Serial,Cost\n", "no rows", id="only a header"),
        pytest.param(b'Kind,Notes\nTrumpet,"never closed\n' + b"Flute,x\n" * 9000, "quotation mark", id="open quote"),
    ],
)
def test_what_is_no_spreadsheet_is_refused_with_a_sentence(data, sentence):
    with pytest.raises(SheetRefusedError, match=sentence):
        list(read_sheet(data=data, filename="list.csv", is_heading=is_heading).rows)


def test_an_empty_workbook_is_refused():
    with pytest.raises(SheetRefusedError, match="empty"):
        read_sheet(data=saved(Workbook()), filename="a.xlsx")


def test_a_workbook_that_unpacks_to_far_too_much_is_refused_unread():
    bomb = archive_of(**{"xl__workbook.xml": b"<a/>", "xl__sharedStrings.xml": b" " * (41 * 2**20)})
    assert len(bomb) < 100_000
    with pytest.raises(SheetRefusedError, match="unpacks"):
        read_sheet(data=bomb, filename="a.xlsx")


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


def test_too_many_rows_and_too_many_bytes_are_refused(monkeypatch):
    monkeypatch.setattr(reading, "MOST_ROWS", 100)
    sheet = read_sheet(data=b"Kind,Serial\n" + b"Trumpet,1\n" * 101, filename="a.csv")
    with pytest.raises(SheetRefusedError, match="more than 100 rows"):
        list(sheet.rows)
    monkeypatch.setattr(reading, "LARGEST_FILE", 2**20)
    with pytest.raises(SheetRefusedError, match="larger than 1 MB"):
        read_sheet(data=b"x" * (2**20 + 1), filename="a.csv")
