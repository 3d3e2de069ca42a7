"""One row: every value, every remark, every problem."""

from __future__ import annotations

import json

import pytest

from core.sheets import CellTrouble, SheetRow
from inventory.catalog.schema import Option
from inventory.rules.intake.row import Answers, RowReading, fit_options, notes_of, remarks_of
from tests.inventory.rules.intake.lists import make_mapping, make_reader

NAMES = {"sax_alto": "Alto saxophone", "sax_tenor": "Tenor saxophone"}


def read(**cells) -> RowReading:
    """Read one row whose headings are the argument names, with blanks for underscores."""
    header = [name.replace("_", " ") for name in cells]
    return make_reader(make_mapping(*header)).read(SheetRow(7, tuple(cells.values())))


def sentences(reading: RowReading) -> list[str]:
    return [problem.sentence for problem in reading.problems]


def test_a_full_row_gives_every_value():
    reading = read(
        Tag="0042",
        Inst="TRUMPET #3",
        Level="student",
        Make="Maker A",
        Model="TR-1",
        Serial="12345.0",
        Yr="1998",
        Key="B flat",
        Valves="3",
        Purch_Date="8/1/2019",
        Cost="$1,234.50",
        Fund="Boosters",
        Grant="S-77",
        Federal_share="80%",
        Owner="District",
        Bldg="maple hollow",
        Rm="Room 112",
        Cond="dented bell",
        Case="Y",
        Mouthpiece="7C",
        Notes="line one\nline two",
        Student="Ann Example",
        Status="out",
    )
    assert sentences(reading) == []
    assert reading.values == {
        "asset_number": "0042",
        "kind": "trumpet",
        "level": "student",
        "acquired_by": "bought",
        "maker": "Maker A",
        "model": "TR-1",
        "serial": "12345",
        "year_made": 1998,
        "key": "Bb",
        "valves": 3,
        "acquired_on": "2019-08-01",
        "cost": "1234.50",
        "funding_source": "Boosters",
        "award_number": "S-77",
        "federal_share": "80.00",
        "title_holder": "District",
        "school": "MH",
        "room": "112",
        "condition": "dented bell",
        "accessories": ["Case", "Mouthpiece: 7C"],
        "notes": "line one\nline two",
        "student": "Ann Example",
    }
    assert json.loads(json.dumps(reading.values)) == reading.values


def test_what_a_row_does_not_say_is_not_among_its_values():
    assert read(Kind="flute", Cost="", Notes="n/a").values == {"kind": "flute", "school": "MH"}


@pytest.mark.parametrize(
    ("cells", "sentence"),
    [
        (
            {"Kind": "Trumpit"},
            "Row 7, column “Kind”: “Trumpit” is not a kind of instrument we know. Did you mean “Trumpet”?",
        ),
        ({"Kind": "", "Serial": "1", "Make": "X"}, "Row 7, column “Kind”: the kind of instrument is missing."),
        ({"Kind": "n/a", "Serial": "1"}, "Row 7, column “Kind”: the kind of instrument is missing."),
        (
            {"Kind": "flute", "Date": "soonish"},
            "Row 7, column “Date”: “soonish” is not a date; write it like 2019-08-01.",
        ),
        ({"Kind": "flute", "Cost": "lots"}, "Row 7, column “Cost”: “lots” is not an amount of dollars."),
        ({"Kind": "flute", "Cost": "(200)"}, "Row 7, column “Cost”: the cost is below zero (-200.00)."),
        ({"Kind": "flute", "School": "Atlantis"}, "Row 7, column “School”: “Atlantis” is not one of your schools."),
        (
            {"Kind": "flute", "Serial": CellTrouble("a formula without a value")},
            "Row 7, column “Serial”: the cell holds a formula without a value; type the value itself.",
        ),
        (
            {"Kind": "flute", "Qty": "3"},
            "Row 7, column “Qty”: “3” says that the row stands for 3 instruments. Give each its own row.",
        ),
        (
            {"Kind": "Clarinet x 3"},
            "Row 7, column “Kind”: “Clarinet x 3” says that the row stands for 3 instruments. Give each its own row.",
        ),
        ({"Kind": "flute", "Make": "x" * 101}, f"Row 7, column “Make”: “{'x' * 39}…” is longer than 100 characters."),
        (
            {"Serial": "Spare parts", "Kind": ""},
            "Row 7, column “Kind”: this looks like a heading or a total. Delete the row or enter a kind.",
        ),
    ],
)
def test_a_problem_says_row_column_and_why(cells, sentence):
    assert sentences(read(**cells)) == [sentence]


def test_all_problems_of_a_row_are_told_at_once():
    assert len(read(Kind="Zither", Date="13/13/2019", Cost="?!", School="Atlantis").problems) == 4


def test_a_level_or_key_that_is_not_understood_is_kept_in_the_notes():
    reading = read(Kind="flute", Level="B", Key="concert", Notes="old")
    assert reading.problems == ()
    assert reading.values["notes"] == "Level: B\nKey: concert\nNotes: old"
    assert len(reading.notes) == 2


def test_free_or_a_donor_means_a_gift():
    assert read(Kind="flute", Cost="free").values["acquired_by"] == "gift"
    assert read(Kind="flute", Donor="A. Neighbor").values["acquired_by"] == "gift"
    assert read(Kind="flute", Cost="free", How_acquired="transfer").values["acquired_by"] == "transfer"


def test_a_new_room_is_no_problem_but_noted():
    reading = read(Kind="flute", Room="Loft")
    assert (reading.problems, reading.values["room"]) == ((), "Loft")
    assert reading.notes == ("Room “Loft” is new at this school",)


@pytest.mark.parametrize("kind", ["Snare drum 14 x 5", "1 x trumpet", "Trumpet x 1", "TRUMPET #3"])
def test_a_number_that_counts_nothing_is_no_problem(kind):
    assert not any("stands for" in sentence for sentence in sentences(read(Kind=kind)))


@pytest.mark.parametrize(("kind", "size"), [("Flute 3/4", "3/4"), ('Tuba 18"', "18 in"), ("Tuba 18 inch", "18 in")])
def test_a_size_written_behind_the_kind_is_kept_as_the_size(kind, size):
    assert read(Kind=kind).values["size"] == size
    assert read(Kind=kind, Size="4/4").values["size"] == "4/4"
    assert read(Size="4/4", Kind=kind).values["size"] == "4/4"


def test_a_row_without_school_belongs_to_the_school_that_sends_it():
    assert read(Kind="flute").values["school"] == "MH"


def test_a_short_row_is_read_as_far_as_it_goes():
    reader = make_reader(make_mapping("Kind", "Serial"))
    assert reader.read(SheetRow(2, ("flute",))).values["kind"] == "flute"


def test_a_condition_of_missing_is_kept():
    assert read(Kind="flute", Condition="Missing").values["condition"] == "Missing"


# In the register's words

VALVES = Option("valves", "valves", ("3", "4"), "3")
SIZE = Option("size", "size", ("3/4", "4/4"), "4/4")


def test_a_choice_that_the_kind_offers_is_taken():
    options, left = fit_options({"size": "3/4", "valves": 4}, options=[VALVES, SIZE], key="BBb")
    assert (options, left) == ({"valves": "4", "size": "3/4"}, [])


def test_what_no_option_offers_goes_to_the_notes_and_the_default_stands():
    options, left = fit_options({"size": "7/8", "valves": 5, "key": "C"}, options=[VALVES, SIZE], key="BBb")
    assert options == {"valves": "3", "size": "4/4"}
    assert left == ["Size: 7/8", "Valves: 5", "Key: C"]


def test_the_kinds_own_key_says_nothing_new():
    assert fit_options({"key": "Bb"}, options=[], key="Bb")[1] == []


def test_notes_hold_the_cell_that_was_parted_and_accessories_as_the_list_had_them():
    values = {"notes": "Red tape.", "as_listed": "Brand / Model: Plain / T1", "accessories": ("case", "mouthpiece")}
    assert notes_of(values, left=["Size: 7/8"], most=1000) == (
        "Red tape.\nSize: 7/8\nIn the list, Brand / Model: Plain / T1\nAccessories in the list: case, mouthpiece"
    )


def test_what_the_list_says_of_its_condition_is_a_remark_and_what_is_not_there_too():
    values = read(Kind="flute", Cond="2nd valve sticks\n\ndented", Case="N", Mouthpiece="Y", Repair_notes="none").values
    assert remarks_of(values, longest=400) == ["2nd valve sticks", "dented", "Case: N"]
    assert values["accessories"] == ["Mouthpiece"]
    assert remarks_of({"condition": "x" * 9}, longest=5) == ["xxxx…"]


def test_maker_and_model_in_one_column_are_parted_and_the_cell_is_kept():
    reading = read(Kind="flute", Brand___Model="Plain / FL-2")
    assert (reading.values["maker"], reading.values["model"]) == ("Plain", "FL-2")
    assert reading.values["as_listed"] == "Brand   Model: Plain / FL-2"
    assert "read as maker Plain, model FL-2" in reading.notes[0]


@pytest.mark.parametrize(
    ("cells", "way"),
    [
        ({"Cost": "$900"}, "bought"),
        ({"Cost": "$900", "Fund": "donated by a family"}, "gift"),
        ({"Cost": "$900", "How_acquired": "transfer"}, "transfer"),
        ({"Cost": "0"}, None),
        ({"Notes": "gift of a neighbor"}, "gift"),
        ({"Notes": "old"}, None),
    ],
)
def test_a_price_means_bought_unless_the_row_says_otherwise(cells, way):
    assert read(Kind="flute", **cells).values.get("acquired_by") == way


@pytest.mark.parametrize("error", ["#REF!", "#DIV/0!", "#VALUE!", "#NAME?", "########"])
@pytest.mark.parametrize("heading", ["Kind", "Serial", "Make", "Cost", "Tag"])
def test_an_error_of_the_spreadsheet_is_no_number_and_no_name(heading, error):
    (sentence,) = sentences(read(**({"Kind": "flute"} | {heading: error})))
    assert "is an error of the spreadsheet program" in sentence
    assert "serial" not in read(Kind="flute", Serial="#N/A").values


def test_a_loose_word_is_asked_until_it_is_answered():
    def reading(**answers):
        reader = make_reader(make_mapping("Kind"), kind_names=NAMES, answers=Answers(**answers))
        return reader.read(SheetRow(2, ("SAX #3",)))

    (problem,) = reading().problems
    assert (problem.asks, problem.column) == ("kind:sax", "Kind")
    assert "may be Alto saxophone / Tenor saxophone" in problem.reason
    told = reading(kinds={"sax": "sax_tenor"})
    assert (told.values["kind"], told.problems) == ("sax_tenor", ())
    assert told.notes == ("“SAX #3” is kept as Tenor saxophone",)


def test_notes_are_cut_to_what_the_register_keeps():
    assert notes_of({"notes": "x" * 50}, left=(), most=10) == "xxxxxxxxx…"


@pytest.mark.parametrize(("heading", "most"), [("Serial", 100), ("Make", 100), ("Notes", 4000)])
def test_a_cell_may_be_so_long_and_no_longer(heading, most):
    assert read(Kind="flute", **{heading: "7" * most}).problems == ()
    (sentence,) = sentences(read(Kind="flute", **{heading: "7" * (most + 1)}))
    assert f"is longer than {most:,} characters" in sentence
