"""Tables for download: safe to open, and the same when they come back."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from python_calamine import CalamineWorkbook

from core.sheets import Share, read_sheet, stream_csv, write_csv, write_xlsx
from core.sheets.writing import ROWS_AT_ONCE, is_formula_like

# The signs that OWASP's page on CSV injection names.
DANGEROUS = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1"]
# The full-width signs, which programs set to East Asian languages take for the narrow ones.
DANGEROUS += ["＝1+1", "＋1", "－1", "＠SUM(A1)", " ＝1"]


def csv_table(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))


@pytest.mark.parametrize("text", DANGEROUS)
def test_text_that_could_run_gets_an_apostrophe_in_a_text_file(text):
    table = csv_table(write_csv(header=[text], rows=[[text]]))
    assert table == [[f"'{text}"], [f"'{text}"]]


def test_numbers_and_dates_stay_what_they_are_in_a_text_file():
    row = [-5, Decimal("-1234.50"), 0.5, date(2019, 8, 1), None, True, 'Müller; "x", y']
    assert csv_table(write_csv(header=["a"] * 7, rows=[row]))[1] == [
        "-5",
        "-1234.50",
        "0.5",
        "2019-08-01",
        "",
        "TRUE",
        'Müller; "x", y',
    ]


@pytest.mark.parametrize("text", DANGEROUS)
def test_text_that_could_run_is_stored_as_text_in_a_workbook(text):
    sheet = load_workbook(io.BytesIO(write_xlsx(title="t", header=["a"], rows=[[text]]))).active
    assert sheet["A2"].data_type == "s"
    assert sheet["A2"].quotePrefix is True


def test_numbers_and_dates_keep_their_type_in_a_workbook():
    row = [-5, Decimal("1234.50"), date(2019, 8, 1), None, "00123"]
    sheet = load_workbook(io.BytesIO(write_xlsx(title="t", header=list("abcde"), rows=[row]))).active
    assert [cell.data_type for cell in sheet[2]] == ["n", "n", "d", "n", "s"]
    assert sheet["E2"].value == "00123"
    assert sheet.freeze_panes == "A2"


def test_a_workbook_reads_the_same_in_a_reader_of_another_make():
    """calamine reads the format itself; openpyxl, which writes ours, has no part in it."""
    row = [-5, Decimal("1234.50"), date(2019, 8, 1), "=1+1", "Müller ♭", True]
    book = CalamineWorkbook.from_filelike(io.BytesIO(write_xlsx(title="Stock", header=list("abcdef"), rows=[row])))
    assert book.sheet_names == ["Stock"]
    head, line = book.get_sheet_by_name("Stock").to_python()
    assert head == list("abcdef")
    assert line == [-5, 1234.5, date(2019, 8, 1), "=1+1", "Müller ♭", True]


@pytest.mark.parametrize(("rows", "ref"), [([[1, 2], [3, 4]], "A1:B3"), ([], "A1:B1")])
def test_a_workbook_filters_by_its_headings_and_shows_cents(rows, ref):
    data = write_xlsx(title="t", header=["a", "b"], rows=[[1, Decimal(7)], *rows] if rows else [])
    sheet = load_workbook(io.BytesIO(data)).active
    assert sheet.auto_filter.ref == ref.replace("3", "4")
    if rows:
        assert (sheet["B2"].number_format, sheet["A2"].number_format) == ("#,##0.00", "General")


def test_a_share_is_shown_in_percent_and_stays_a_number():
    data = write_xlsx(title="t", header=["a"], rows=[[Share("0.0223")]])
    cell = load_workbook(io.BytesIO(data)).active["A2"]
    assert (cell.value, cell.number_format) == (0.0223, "0.0%")
    assert write_csv(header=["a"], rows=[[Share("0.0223")]]).decode("utf-8-sig").split() == ["a", "0.0223"]


def test_what_a_workbook_cannot_hold_is_left_out_or_cut_visibly():
    data = write_xlsx(title="a/b:c[d]*?\\" + "x" * 40, header=["a"], rows=[["bad\x00\x0b\ud800text"], ["y" * 40_000]])
    sheet = load_workbook(io.BytesIO(data)).active
    assert len(sheet.title) == 31
    assert sheet["A2"].value == "badtext"
    assert len(sheet["A3"].value) == 32_767
    assert sheet["A3"].value.endswith("…")


LETTERS = st.characters(min_codepoint=33, max_codepoint=0x24F, exclude_categories=("C", "Z"))
PLAIN = st.text(LETTERS, min_size=1, max_size=20)


@settings(max_examples=40)
@given(st.lists(st.tuples(PLAIN, PLAIN), min_size=1, max_size=5))
def test_text_comes_back_as_it_went_out(rows):
    header = ("Kind", "Serial")
    known = header.__contains__
    wanted = [row for row in rows if row != header]
    for data in (write_csv(header=header, rows=wanted), write_xlsx(title="t", header=header, rows=wanted)):
        if wanted and not any(text[0] == "'" or text.startswith('="') for row in wanted for text in row):
            back = read_sheet(data=data, filename="t", is_heading=known)
            assert [row.cells for row in back.rows] == wanted


def test_harmless_text_is_left_alone():
    assert not any(map(is_formula_like, ["", "trumpet", "3-4", "a=b", "'x"]))


def test_a_long_table_is_sent_piece_by_piece_and_reads_the_same():
    taken: list[int] = []

    def rows():
        for number in range(3 * ROWS_AT_ONCE):
            taken.append(number)
            yield [number, "é"]

    pieces = stream_csv(header=["a", "b"], rows=rows())
    first = next(pieces)
    assert len(taken) < ROWS_AT_ONCE, "nothing is read before it is sent"
    whole = csv_table(first + b"".join(pieces))
    assert (len(whole), whole[0], whole[-1]) == (3 * ROWS_AT_ONCE + 1, ["a", "b"], [str(3 * ROWS_AT_ONCE - 1), "é"])
