"""Kinds, numbers and words as school lists have them."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.intake.parse.reading import UnreadableError
from inventory.rules.intake.parse.words import (
    name_key,
    parse_accessories,
    parse_acquired_by,
    parse_key,
    parse_kind,
    parse_level,
    parse_serial,
    parse_size,
    parse_valves,
    serial_key,
)
from tests.inventory.rules.intake.lists import find_kind


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("Tpt", "trumpet"),
        ("trumpet", "trumpet"),
        ("TRUMPET #3", "trumpet"),
        ("#3 Trumpet", "trumpet"),
        ("Trumpet 14", "trumpet"),
        ("Trumpet No. 4", "trumpet"),
        ("Trumpet x3", "trumpet"),
        ("Trumpet (silver)", "trumpet"),
        ("Bb Clarinet", "clarinet_bb"),
        ("Alto Sax (2)", "sax_alto"),
        ("Sax, Alto", "sax_alto"),
        ("Clarinet - 12", "clarinet_bb"),
        ("Kazoo", None),
        ("n/a", None),
        ("", None),
    ],
)
def test_kinds_are_found_behind_numbers_and_remarks(text, code):
    assert parse_kind(text, find_kind=find_kind).value == code


def test_a_number_left_out_of_a_kind_is_told():
    assert parse_kind("Alto Sax (2)", find_kind=find_kind).note == "“(2)” in “Alto Sax (2)” was left out"
    assert parse_kind("Tpt", find_kind=find_kind).note == ""


@pytest.mark.parametrize(
    ("text", "serial"),
    [
        ("12345.0", "12345"),
        ("00123", "00123"),
        ("'00123", "00123"),
        ("S/N 123", "123"),
        ("SN: A-12", "A-12"),
        ("#123", "123"),
        ("A 12  3", "A 12 3"),
        ("12345?", "12345"),
        ("none", ""),
        ("N/A", ""),
        ("?", ""),
        ("no serial", ""),
        ("123E4", "123E4"),
        ("SN123", "SN123"),
        ("Serial No. 77", "77"),
        ("SNARE7", "SNARE7"),
    ],
)
def test_serials_keep_what_counts(text, serial):
    assert parse_serial(text).value == serial


@pytest.mark.parametrize("cell", ["1.23E+11", date(2019, 8, 1)])
def test_serials_spoiled_by_the_spreadsheet_program_are_refused(cell):
    with pytest.raises(UnreadableError, match="type the number as text"):
        parse_serial(cell)


@given(st.from_regex(r"[0-9]{1,12}", fullmatch=True))
def test_digits_are_never_changed(digits):
    assert parse_serial(digits).value == digits


def test_numbers_and_names_compare_without_case_blanks_and_dashes():
    assert serial_key("A-12 3") == serial_key("a123")
    assert serial_key("0123") != serial_key("123")
    assert name_key("Müller & Söhne, Inc.") == name_key("müller söhne inc")


@pytest.mark.parametrize(
    ("text", "level"),
    [("Student", "student"), ("beginner", "student"), ("Step-Up", "intermediate"), ("Student Model", "student")],
)
def test_levels_are_read(text, level):
    assert parse_level(text).value == level


def test_a_higher_level_is_kept_as_the_highest_there_is_with_a_note():
    assert parse_level("Pro").value == "intermediate"
    assert "higher of the two" in parse_level("Pro").note


@pytest.mark.parametrize(
    ("text", "way"),
    [("Purchased 2019", "bought"), ("PO 1234", "bought"), ("Donation", "gift"), ("xfer", "transfer"), ("unknown", "")],
)
def test_ways_of_coming_are_read(text, way):
    assert parse_acquired_by(text).value == way


@pytest.mark.parametrize(
    ("text", "count"), [("3", 3), ("4 valve", 4), ("3+1", 4), ("four", 4), ("3.0", 3), ("-", None)]
)
def test_valves_are_counted(text, count):
    assert parse_valves(text).value == count


@pytest.mark.parametrize(
    ("text", "key"),
    [("Bb", "Bb"), ("B flat", "Bb"), ("E♭", "Eb"), ("F/Bb", "F/Bb"), ("BBb", "BBb"), ("CC", "CC"), ("key of F", "F")],
)
def test_keys_are_read(text, key):
    assert parse_key(text).value == key


@pytest.mark.parametrize(
    ("cell", "size"),
    [
        ("3/4", "3/4"),
        ("4-Mar", "3/4"),
        (date(2026, 3, 4), "3/4"),
        ("½", "1/2"),
        ("5½", "5 1/2"),
        ('14"', "14 in"),
        ("14 inch", "14 in"),
        ("Full", "4/4"),
    ],
)
def test_sizes_are_read_even_after_a_spreadsheet_program_made_dates_of_them(cell, size):
    assert parse_size(cell).value == size


@pytest.mark.parametrize(
    ("parse", "text"),
    [(parse_level, "B"), (parse_acquired_by, "leased"), (parse_valves, "many"), (parse_key, "concert")],
)
def test_words_that_say_something_else_are_refused(parse, text):
    with pytest.raises(UnreadableError):
        parse(text)


def test_accessories_are_a_list_or_a_column_of_yes_and_no():
    assert parse_accessories("case, mouthpiece & lyre", header="Accessories", names_one=False) == (
        "case",
        "mouthpiece",
        "lyre",
    )
    assert parse_accessories("Y", header="Case (Y/N)", names_one=True) == ("Case",)
    assert parse_accessories("no", header="Case", names_one=True) == ()
    assert parse_accessories("7C", header="Mouthpiece", names_one=True) == ("Mouthpiece: 7C",)
    assert parse_accessories("n/a", header="Accessories", names_one=False) == ()
