"""Headers laid out by hand."""

from __future__ import annotations

from datetime import date

from core.sheets import read_sheet
from core.sheets.heading import HeadRow, _fill_merged, find_heading
from core.sheets.xlsx_reading import WIDEST_SHEET
from tests.core.sheets.files import is_heading, make_xlsx


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


def test_a_line_of_groups_names_the_columns_that_the_lower_line_leaves_blank():
    rows: list[HeadRow] = [
        (1, ["Tag", "Inst.", "Identity", "", "Given by"]),
        (2, ["", "", "Make", "Serial", ""]),
        (3, ["MT-1", "Tpt", "Plain", "1", "A Giver"]),
        (4, ["MT-2", "Tpt", "Plain", "2", ""]),
    ]
    heading = find_heading(rows, merged=[(3, 1, 4, 1)], is_heading=is_heading)
    assert heading.names == ("Tag", "Inst.", "Identity Make", "Identity Serial", "Given by")
    assert heading.last_row == 2


def test_merged_areas_that_overlap_fill_no_more_than_the_cells_there_are():
    """No program writes such areas; each would cost as much as the whole head."""
    rows: list[HeadRow] = [(number, ["Kind", "Serial"]) for number in range(1, 61)]
    filled = _fill_merged(rows, [(1, top, 16_384, 1_048_576) for top in range(1, 20_001)])
    assert [len(cells) for _, cells in filled] == [WIDEST_SHEET] * 60
