"""From the bytes that somebody sent to a header and rows, or a refusal."""

from __future__ import annotations

import pytest
from openpyxl import Workbook

from core.sheets import SheetRefusedError, read_sheet, reading
from core.sheets.heading import Heading
from core.sheets.reading import _table_rows
from tests.core.sheets.files import archive_of, cells_of, is_heading, make_xlsx, saved


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


def test_the_first_worksheet_with_a_table_is_taken_and_others_can_be_asked_for():
    book = Workbook()
    book.active.title = "Read me"
    book.active.append(["Fill in the next sheet."])
    instruments = book.create_sheet("Horns")
    instruments.append(["Kind", "Serial"])
    instruments.append(["Trumpet", 1])
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


def test_trailing_empty_columns_are_trimmed():
    data = b"Kind,Serial,,,\nTrumpet,1,,,\n"
    sheet = read_sheet(data=data, filename="a.csv")
    assert sheet.header == ("Kind", "Serial")
    assert next(sheet.rows).cells == ("Trumpet", "1")


def test_a_text_file_is_named_by_its_file_without_folders():
    sheet = read_sheet(data=b"Kind,Serial\nTrumpet,1\n", filename="C:\\Users\\x\\Band list.csv")
    assert sheet.name == "Band list"


def test_the_sample_does_not_use_up_the_rows():
    data = "Kind,Serial\n" + "".join(f"Trumpet,{number}\n" for number in range(120))
    sheet = read_sheet(data=data.encode(), filename="a.csv")
    assert len(sheet.sample) == 50
    assert [row.cells[1] for row in sheet.rows] == [str(number) for number in range(120)]


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


def test_too_many_rows_and_too_many_bytes_are_refused(monkeypatch):
    monkeypatch.setattr(reading, "MOST_ROWS", 100)
    sheet = read_sheet(data=b"Kind,Serial\n" + b"Trumpet,1\n" * 101, filename="a.csv")
    with pytest.raises(SheetRefusedError, match="more than 100 rows"):
        list(sheet.rows)
    monkeypatch.setattr(reading, "LARGEST_FILE", 2**20)
    with pytest.raises(SheetRefusedError, match="larger than 1 MB"):
        read_sheet(data=b"x" * (2**20 + 1), filename="a.csv")


def test_columns_merged_over_and_over_cost_one_look_each():
    """Twenty thousand areas down the same columns; a map of every row of each would hold a thousand million entries."""
    body = [[str(number), str(number)] for number in range(2_000)]
    rows = ((number, list(cells)) for number, cells in enumerate(body, start=2))
    merged = [(column, top, column, 1_048_576) for column in (1, 2) for top in range(2, 10_002)]
    table = list(_table_rows(rows, heading=Heading(("Kind", "Serial"), 1), merged=merged))
    assert [row.cells for row in table[:2]] == [("0", "0"), ("1", "1")]
