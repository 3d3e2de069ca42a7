"""Text files with bytes and separators as programs really write them."""

from __future__ import annotations

import pytest

from core.sheets import CellTrouble, SheetRefusedError, csv_reading, read_sheet
from tests.core.sheets.files import cells_of


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1", "cp1252"])
def test_accents_survive_every_encoding(encoding):
    data = "Kind,Maker,Serial\nFlûte,Müller & Söhne,0012\n".encode(encoding)
    sheet = read_sheet(data=data, filename="liste.csv")
    assert sheet.header == ("Kind", "Maker", "Serial")
    assert [row.cells for row in sheet.rows] == [("Flûte", "Müller & Söhne", "0012")]


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


def test_formulas_written_in_a_text_file_are_told_and_quoted_numbers_are_read():
    assert cells_of(b'Kind,Serial,Cost\nTrumpet,"=""00123""",=A1*2\n') == [
        ("Trumpet", "00123", CellTrouble("a formula without a value"))
    ]


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        pytest.param(b"a," * 1_000 + b"\n1,2\n", "more than 1,000 columns", id="wide"),
        pytest.param(b'"\n",' * 1_001, "more than 1,000 columns", id="wide over many lines"),
        pytest.param(b"Kind,Serial\n" + b"x" * (2**20 + 1), "more than 1,000 columns", id="one endless line"),
        pytest.param(b"Kind,Serial\n" + b"\n" * 1_048_577, "more than 1,048,576 lines", id="blank lines"),
        pytest.param("é\n".encode("latin-1") * 1_048_577, "more than 1,048,576 lines", id="lines of no known encoding"),
    ],
)
def test_a_file_far_beyond_a_list_is_refused_with_a_sentence(data, sentence):
    with pytest.raises(SheetRefusedError, match=sentence):
        list(read_sheet(data=data, filename="a.csv").rows)


def test_a_file_of_two_encodings_is_read_in_pieces():
    lines = [f"Oboe,Théâtre {number}\n" for number in range(9_000)]
    data = b"Kind,Room\n" + b"".join(line.encode("latin-1" if n % 2 else "utf-8") for n, line in enumerate(lines))
    assert len(data) > 3 * csv_reading._LINES_AT_ONCE / 2
    assert [room for _, room in cells_of(data)] == [f"Théâtre {number}" for number in range(9_000)]
