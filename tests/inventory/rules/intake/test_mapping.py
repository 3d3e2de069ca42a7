"""Guesses for the columns of real-looking lists, and how they are put right and remembered."""

from __future__ import annotations

import pytest

from inventory.rules.intake.headings import normal_heading
from inventory.rules.intake.mapping import guess_mapping
from tests.inventory.rules.intake.lists import find_kind, make_mapping, make_rows


def fields_of(header, *rows, remembered=None):
    mapping = guess_mapping(
        header=header, sample_rows=make_rows(*rows), remembered=remembered or {}, find_kind=find_kind
    )
    return [column.field for column in mapping.columns]


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("Inst.", "kind"),
        ("Instrument", "kind"),
        ("Type", "kind"),
        ("Tag", "asset_number"),
        ("Barcode", "asset_number"),
        ("Old tag", "second_number"),
        ("Inventory No", "asset_number"),
        ("Inst #", "asset_number"),
        ("#", "asset_number"),
        ("S/N", "serial"),
        ("Serial #", "serial"),
        ("Make", "maker"),
        ("Brand", "maker"),
        ("Mfr.", "maker"),
        ("Model No.", "model"),
        ("Purch. Date", "acquired_on"),
        ("Year Purchased", "acquired_on"),
        ("Yr", "year_made"),
        ("Cost $", "cost"),
        ("Purchase Price ($)", "cost"),
        ("Purchase Cost", "cost"),
        ("Bldg", "school"),
        ("Rm", "room"),
        ("Location", "room"),
        ("Cond.", "condition"),
        ("Comments", "notes"),
        ("Grant #", "award_number"),
        ("Fed %", "federal_share"),
        ("Fund Source", "funding_source"),
        ("Donated By", "donor"),
        ("Property of", "title_holder"),
        ("How Acquired", "acquired_by"),
        ("# of Valves", "valves"),
        ("Checked Out To", "student"),
        ("Assigned to student", "student"),
        ("Status", "whereabouts"),
        ("Replacement Value", "value"),
        ("Qty.", "quantity"),
        ("Mouthpiece (Y/N)", "accessories"),
        ("Instrument serial no.", "serial"),
        ("Lucky charm", None),
    ],
)
def test_headings_are_understood(heading, field):
    assert fields_of([heading]) == [field]


def test_a_column_without_heading_is_guessed_by_what_it_holds():
    rows = [("Trumpet", "$500.00", "8/1/2019", "gift", "student"), ("Flute", "$1,200", "9/2/2020", "bought", "Student")]
    assert fields_of(["", "", "", "", ""], *rows) == ["kind", "cost", "acquired_on", "acquired_by", "level"]


def test_serials_under_an_unknown_heading_are_not_taken_for_dates():
    assert fields_of(["Lucky charm"], ("43678",), ("2019",), ("45123",)) == [None]


def test_contents_decide_between_two_meanings_of_a_heading():
    assert fields_of(["Source"], ("gift",), ("purchase",)) == ["acquired_by"]
    assert fields_of(["Source"], ("Boosters",), ("General fund",)) == ["funding_source"]
    assert fields_of(["Grade"], ("7",), ("8",)) == ["student_grade"]
    assert fields_of(["Grade"], ("student",), ("intermediate",)) == ["level"]
    assert fields_of(["Year"], ("8/1/2019",), ("9/1/2020",)) == ["acquired_on"]
    assert fields_of(["Year"], ("1998",), ("2004",)) == ["year_made"]
    assert fields_of(["Checked out"], ("9/3/2026",), ("9/8/2026",)) == ["out_since"]
    assert fields_of(["Checked out"], ("yes",), ("no",)) == [None]


def test_numbers_that_repeat_are_doubted_as_asset_numbers():
    mapping = guess_mapping(header=["#"], sample_rows=make_rows(("1",), ("2",), ("1",)), remembered={})
    assert mapping.columns[0].confidence < 0.5
    assert "repeat" in mapping.columns[0].because


def test_of_two_numbers_of_the_districts_the_second_is_kept_beside():
    assert fields_of(["Asset Number", "Barcode", "Instrument"], ("TV-1", "99", "Tpt")) == [
        "asset_number", "second_number", "kind",
    ]  # fmt: skip


def test_a_field_for_one_column_goes_to_the_surest():
    mapping = make_mapping("Old serial label", "Serial")
    assert [column.field for column in mapping.columns] == [None, "serial"]
    assert "“Serial”" in mapping.columns[0].because


@pytest.mark.parametrize("turned", [False, True])
def test_two_headings_of_one_group_are_told_apart_by_their_other_words_and_what_they_hold(turned):
    columns = [("Acquired Date", "8/20/14"), ("Acquired Fund", "General")]
    columns = columns[::-1] if turned else columns
    header, cells = zip(*columns, strict=True)
    found = fields_of(list(header), cells)
    assert dict(zip(header, found, strict=True)) == {
        "Acquired Date": "acquired_on",
        "Acquired Fund": "funding_source",
    }


def test_several_columns_may_hold_notes_and_accessories():
    assert fields_of(["Notes", "Comments", "Case", "Mouthpiece"]) == ["notes", "notes", "accessories", "accessories"]


def test_what_was_chosen_the_last_time_wins_over_every_guess():
    first = make_mapping("Serial", "Lucky charm", "Notes")
    chosen = first.corrected({0: "model", 1: "serial", 2: ""})
    assert chosen.to_remember() == {"serial": "model", "lucky charm": "serial", "notes": ""}
    assert fields_of(["SERIAL", "Lucky Charm!", "notes"], remembered=chosen.to_remember()) == ["model", "serial", None]


def test_two_columns_of_one_name_are_remembered_apart():
    chosen = make_mapping("Date", "Date").corrected({0: "year_made", 1: "acquired_on"})
    assert fields_of(["Date", "Date"], remembered=chosen.to_remember()) == ["year_made", "acquired_on"]


def test_a_remembered_field_that_no_longer_exists_is_left_out():
    assert fields_of(["Serial"], remembered={normal_heading("Serial"): "gone"}) == [None]


def test_a_field_chosen_twice_is_refused():
    with pytest.raises(ValueError, match="Serial can come from one column only; 2 are chosen"):
        make_mapping("Serial", "Model").corrected({1: "serial"})
    with pytest.raises(ValueError, match="nonsense"):
        make_mapping("Serial").corrected({0: "nonsense"})


def test_a_mapping_without_kind_says_what_is_missing():
    assert not make_mapping("Serial").names_kind
    assert make_mapping("Instrument").names_kind


def test_columns_left_out_say_why():
    mapping = guess_mapping(header=["Guardian"], sample_rows=make_rows(("Ann",)), remembered={})
    assert "kept with the student" in mapping.columns[0].because


def test_the_columns_of_our_own_problem_list_are_no_data_and_are_not_remembered():
    header = ["Kind", "Problem", "Row", "Problem", "Row mark"]
    assert fields_of(header) == ["kind", "condition", None, None, None]
    assert set(make_mapping(*header).to_remember()) == {"kind", "problem"}
    assert fields_of(["Kind", "Row", "Problem"]) == ["kind", None, None]


@pytest.mark.parametrize(("levels", "field"), [(7, "level"), (6, None)])
def test_a_column_is_taken_for_what_seven_in_ten_of_its_cells_are(levels, field):
    rows = [("Flute", "student" if number < levels else "who knows") for number in range(10)]
    assert fields_of(["Kind", "Zzz"], *rows) == ["kind", field]
