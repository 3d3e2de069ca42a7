"""New, here already, or a problem: a file sent twice adds nothing, and no instrument is lost on the way."""

from __future__ import annotations

from itertools import islice, pairwise
from typing import Any

import pytest

from core.sheets import read_sheet, write_csv, write_xlsx
from inventory.rules.intake.headings import is_heading
from inventory.rules.intake.judge import (
    KnownFleet,
    KnownInstrument,
    ProblemSheet,
    RowState,
    conflicts,
    counts,
    judge_rows,
    problem_sheet,
    row_mark,
)
from tests.inventory.rules.intake.lists import (
    judged,
    judged_file,
    make_mapping,
    make_places,
    make_reader,
    make_rows,
)

NEW, HERE, PROBLEM = RowState.NEW, RowState.ALREADY_HERE, RowState.PROBLEM


def fleet_after(judgements, *, known: KnownFleet | None = None) -> KnownFleet:
    """Return the fleet once the new rows came in, each with an asset number given to it if it has none."""
    known = known or KnownFleet()
    came = [judgement for judgement in judgements if judgement.state is NEW]
    return KnownFleet(
        instruments=[
            *known.instruments,
            *(
                KnownInstrument(
                    asset_number=judgement.values.get("asset_number") or f"AUTO-{judgement.fingerprint}",
                    kind=judgement.values["kind"],
                    maker=judgement.values.get("maker", ""),
                    serial=judgement.values.get("serial", ""),
                )
                for judgement in came
            ),
        ],
        fingerprints={*known.fingerprints, *(judgement.fingerprint for judgement in came)},
    )


def states(judgements) -> list[RowState]:
    return [judgement.state for judgement in judgements]


HEADER = ("Tag", "Kind", "Make", "Model", "Serial", "Date", "Cost")
ROWS = make_rows(
    ("1", "Trumpet", "Maker A", "T1", "100", "8/1/2019", "$500"),
    ("", "Tpt", "Maker A", "T1", "101"),
    ("3", "Flute", "Maker B"),
    ("", "Clarinet", "Maker C"),
    ("", "Clarinet", "maker c"),
    ("", "Clarinet", "Maker C", "", "none"),
    ("", "Clarinet"),
)


def test_the_same_file_twice_adds_nothing():
    first = judged(ROWS, *HEADER)
    assert states(first) == [NEW] * 7
    again = judged(ROWS, *HEADER, known=fleet_after(first))
    assert states(again) == [HERE] * 7
    assert again[0].reason == "Already registered as 1."
    assert again[3].reason == "This row was imported before."


def test_every_new_row_has_a_fingerprint_of_its_own():
    fingerprints = [judgement.fingerprint for judgement in judged(ROWS, *HEADER)]
    assert len(set(fingerprints)) == len(ROWS)


def test_the_same_rows_in_another_order_and_place_add_nothing():
    known = fleet_after(judged(ROWS, *HEADER))
    moved = make_rows(*(row.cells for row in reversed(ROWS)), first=40)
    assert states(judged(moved, *HEADER, known=known)) == [HERE] * 7


def test_one_more_of_like_rows_is_one_new_instrument():
    known = fleet_after(judged(ROWS, *HEADER))
    more = [*ROWS, *make_rows(("", "Clarinet", "Maker C"), first=20)]
    assert states(judged(more, *HEADER, known=known)) == [HERE] * 7 + [NEW]


def test_a_corrected_note_or_cost_does_not_make_a_row_new():
    known = fleet_after(judged(make_rows(("Flute", "", "$5")), "Kind", "Make", "Cost"))
    assert states(judged(make_rows(("Flute", "", "$6")), "Kind", "Make", "Cost", known=known)) == [HERE]


def test_like_rows_of_two_schools_are_two_instruments():
    rows = make_rows(("Flute", "Maker B"))
    known = fleet_after(judged(rows, "Kind", "Make"))
    assert states(judged(rows, "Kind", "Make", known=known, places=make_places(own_school="EA"))) == [NEW]


def test_a_serial_that_repeats_in_the_file_is_a_problem_that_names_the_first_row():
    rows = make_rows(("Trumpet", "Maker A", "A-100"), ("Trumpet", "MAKER A", "a100"), ("Trumpet", "Maker B", "A100"))
    found = judged(rows, "Kind", "Make", "S/N")
    assert states(found) == [NEW, PROBLEM, NEW]
    assert (found[1].column, found[1].reason) == (
        "S/N",
        "serial “a100” of MAKER A is also in row 2. Check which row is right.",
    )


def test_an_asset_number_that_repeats_in_the_file_is_a_problem():
    found = judged(make_rows(("0042", "Trumpet"), ("0042", "Flute")), "Tag", "Kind")
    assert states(found) == [NEW, PROBLEM]
    assert "asset number “0042” is also in row 2" in found[1].reason


def test_a_second_number_is_on_one_instrument_alone_in_the_file_and_in_the_register():
    known = make_fleet(("0007", "flute", "Maker A", "100", False, "Dist 41"))
    rows = make_rows(("Trumpet", "D-1"), ("Flute", "d-1"), ("Tuba", "DIST 41"))
    found = judged(rows, "Kind", "Old tag", known=known)
    assert states(found) == [NEW, PROBLEM, PROBLEM]
    assert "second number “d-1” is also in row 2" in found[1].reason
    assert "second number “DIST 41” is taken" in found[2].reason
    late = conflicts(rows=found[:1], known=make_fleet(("0008", "flute", "", "", False, "D-1")))
    assert ["taken in the meantime" in problem.reason for problem in late] == [True]


def make_fleet(*instruments: tuple[Any, ...], **more) -> KnownFleet:
    return KnownFleet(instruments=[KnownInstrument(*values) for values in instruments], **more)


def test_a_serial_of_another_instrument_of_the_register_is_a_problem():
    known = make_fleet(("0007", "flute", "Maker A", "100"))
    (found,) = judged(make_rows(("Trumpet", "Maker A", "100")), "Kind", "Make", "Serial", known=known)
    assert (found.state, found.column) == (PROBLEM, "Serial")
    assert found.reason == "serial “100” is registered as 0007, flute, Maker A, serial 100."


def test_a_serial_in_the_register_under_another_asset_number_is_a_problem():
    known = make_fleet(("0007", "trumpet", "Maker A", "100"))
    (found,) = judged(make_rows(("0008", "Trumpet", "Maker A", "100")), "Tag", "Kind", "Make", "Serial", known=known)
    assert found.state is PROBLEM


def test_an_asset_number_of_another_instrument_is_a_problem():
    known = make_fleet(("0042", "flute", "Maker B", "9"))
    (found,) = judged(make_rows(("0042", "Trumpet")), "Tag", "Kind", known=known)
    assert (found.state, found.column) == (PROBLEM, "Tag")
    assert "taken by 0042, flute, Maker B, serial 9" in found.reason


def test_an_asset_number_without_its_zeros_is_the_one_of_the_register():
    # common practice, no source: people leave out zeros in front, but "1-05" is another number than "15"
    known = make_fleet(("TP-0019", "trumpet", "Maker A", ""), ("15", "trumpet", "Maker A", ""))
    rows = make_rows(("TP-19", "Trumpet", "Maker A"), ("1-05", "Trumpet", "Maker A"), ("tp 019", "Trumpet", "Maker A"))
    same, other, again = judged(rows, *HEADER[:3], known=known)
    assert (same.state, same.match, other.state, again.state) == (HERE, "TP-0019", NEW, PROBLEM)
    assert "also in row" in again.reason


def test_an_asset_number_with_another_serial_is_a_problem():
    known = make_fleet(("0042", "flute", "Maker B", "9"))
    (found,) = judged(make_rows(("0042", "Flute", "10")), "Tag", "Kind", "Serial", known=known)
    assert found.state is PROBLEM


def test_an_instrument_whose_serial_only_one_side_knows_is_here_already():
    known = make_fleet(("0042", "flute", "Maker B", "9"), ("0043", "flute", "", ""))
    rows = make_rows(("0042", "Flute", ""), ("0043", "Flute", "77"))
    assert states(judged(rows, "Tag", "Kind", "Serial", known=known)) == [HERE, HERE]


def test_an_instrument_changed_since_it_came_in_is_still_known_by_its_row():
    rows = make_rows(("Flute", "Maker B", "100"))
    (first,) = judged(rows, "Kind", "Make", "Serial")
    renamed = KnownInstrument("0001", "flute", "Maker B & Sons", "100")
    known = KnownFleet(instruments=[renamed], fingerprints={first.fingerprint})
    assert states(judged(rows, "Kind", "Make", "Serial", known=known)) == [HERE]


MESSY = (
    "\ufeffMaple Hollow Band;;;;\r\n;;;;\r\nInst.;Brand;S/N;Purch. Date;Cost $\r\n"
    "Tpt;Müller;00123;8/1/2019;$1,234.50\r\n"
    "TRUMPET #3;Müller;00124;1-Aug-19;1.234,50\r\n;;;;\r\n"
    "trumpet;Müller;00123;Aug 2019;\r\n"
    "Trumpit;Müller;5;2019;5\r\n"
    "Alto Sax (2);;none;43678;free\r\n"
    "Flute;;?;13/32/2019;n/a\r\n"
)


def test_a_messy_file_is_judged_row_by_row_with_its_own_row_numbers():
    found = judged_file(MESSY.encode())
    assert [(judgement.number, judgement.state, judgement.column) for judgement in found] == [
        (4, NEW, ""),
        (5, NEW, ""),
        (7, PROBLEM, "S/N"),
        (8, PROBLEM, "Inst."),
        (9, NEW, ""),
        (10, PROBLEM, "Purch. Date"),
    ]
    assert counts(found) == {NEW: 3, HERE: 0, PROBLEM: 3, RowState.SKIPPED: 0}
    assert states(judged_file(MESSY.encode("cp1252", errors="ignore"), known=fleet_after(found))) == [
        HERE,
        HERE,
        PROBLEM,
        PROBLEM,
        HERE,
        PROBLEM,
    ]


def test_judging_asks_no_further_than_it_is_read():
    asked = []

    def rows():
        for row in make_rows(*[("Flute",)] * 1200):
            asked.append(row.number)
            yield row

    assert len(list(islice(judged_lazily(rows()), 500))) == 500
    assert len(asked) == 500


def judged_lazily(rows):
    return judge_rows(rows=rows, reader=make_reader(make_mapping("Kind")), known=KnownFleet())


def test_marks_tell_like_rows_apart_and_stay_the_same():
    rows = make_rows(("Flute",), ("Flute",), ("Tuba",))
    assert all(row_mark(one) != row_mark(other) for one, other in pairwise(rows))
    assert row_mark(rows[0]) == row_mark(make_rows(("Flute",))[0])
    assert row_mark(rows[0]).startswith("R2-")


def judge_part(rows, earlier=(), known=None, **more):
    reader = make_reader(make_mapping("Instrument", "Make", "Serial", "Tag"), **more)
    return list(judge_rows(rows=rows, reader=reader, known=known or KnownFleet(), earlier=earlier))


def test_a_file_judged_in_two_parts_gets_the_answers_of_one_wherever_it_is_cut():
    rows = make_rows(
        ("Tpt", "Plain", "1", ""), ("Tpt", "Plain", "", ""), ("Tpt", "Plain", "", ""), ("lute", "Plain", "7", "T-1"),
        ("Tpt", "Plain", "1", ""), ("Flute", "Plain", "7", ""), ("Tpt", "Plain", "", "T-1"), ("Tpt", "Plain", "", ""),
    )  # fmt: skip
    whole = judge_part(rows, known=fleet_after(judge_part(rows[1:2])))
    assert {judgement.state for judgement in whole} == {NEW, HERE, PROBLEM}
    for cut in range(1, len(rows)):
        known = fleet_after(judge_part(rows[1:2]))
        first = judge_part(rows[:cut], known=known)
        assert first + judge_part(rows[cut:], first, known=known) == whole


def test_an_instrument_of_a_school_one_does_not_see_is_a_problem_and_nothing_of_it_is_told():
    known = KnownFleet([KnownInstrument("OAK-9", "trumpet", "Plain", "777", is_elsewhere=True)])
    by_serial, by_number = judge_part(make_rows(("Tpt", "Plain", "777", ""), ("Tpt", "X", "", "OAK-9")), known=known)
    assert (by_serial.state, by_number.state) == (PROBLEM, PROBLEM)
    assert "OAK-9" not in by_serial.reason
    assert "Plain" not in by_number.reason


def test_a_value_longer_than_the_register_keeps_is_a_problem():
    (row,) = judge_part(make_rows(("Tpt", "Plain Brass Works", "1", "")), longest={"maker": 5})
    assert (row.column, row.reason) == ("Make", "“Plain Brass Works” is longer than 5 characters. Shorten it.")


def test_a_slash_in_an_asset_number_is_a_problem():
    (row,) = judge_part(make_rows(("Tpt", "Plain", "1", "A/7")))
    assert row.column == "Tag"
    assert "slash" in row.reason


def test_conflicts_name_what_the_register_holds_by_now():
    rows = judge_part(
        make_rows(("Tpt", "A", "1", ""), ("Tpt", "B", "2", "T-2"), ("Tpt", "C", "", ""), ("Tpt", "D", "4", ""))
    )
    known = KnownFleet(
        [KnownInstrument("X-1", "flute", "a", "1"), KnownInstrument("t 2", "flute", "", "")],
        fingerprints=frozenset({rows[2].fingerprint}),
    )
    found = [(problem.number, problem.reason.split()[0]) for problem in conflicts(rows=rows, known=known)]
    assert found == [(2, "serial"), (3, "asset"), (4, "this")]


def test_a_fingerprint_stays_what_it_was_when_rows_came_in_years_ago():
    """Stored with every instrument an import brought in: another way of making it would bring them all in again."""
    (row,) = judged(
        make_rows(("1", "Trumpet", "Maker A", "T1", "A-100", "3/4")), "Tag", "Kind", "Make", "Model", "Serial", "Size"
    )
    assert row.fingerprint == "f48fe4c72d3cdf92ed909c42:1"


# The rows that could not come in, to be corrected and sent again

SHEET_HEADER = ("Kind", "Make", "Date", "Notes")
SHEET_ROWS = make_rows(
    ("Flute", "Maker B", "8/1/2019"),
    ("Flute", "Maker B", "13/32/2019", "=cmd()"),
    ("Flute", "Maker B", "8/3/2019"),
)


def sheet_of(header, rows, judgements) -> ProblemSheet:
    problems = {judgement.number: judgement.problems for judgement in judgements}
    return problem_sheet(header=header, rows=[(row, problems[row.number]) for row in rows if problems[row.number]])


def written(sheet: ProblemSheet, form: str) -> bytes:
    if form == "csv":
        return write_csv(header=sheet.header, rows=sheet.rows)
    return write_xlsx(title="Problems", header=sheet.header, rows=sheet.rows)


def test_problem_rows_carry_their_columns_their_row_and_why():
    sheet = sheet_of(SHEET_HEADER, SHEET_ROWS, judged(SHEET_ROWS, *SHEET_HEADER))
    assert sheet.header == (*SHEET_HEADER, "Row", "Problem", "Row mark")
    (row,) = sheet.rows
    assert row[:4] == ("Flute", "Maker B", "13/32/2019", "=cmd()")
    assert row[4:6] == (3, "Date: “13/32/2019” is not a date that exists.")


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_problem_row_put_right_comes_in_once_although_others_like_it_are_here(form):
    first = judged(SHEET_ROWS, *SHEET_HEADER)
    known = fleet_after(first)
    sheet = sheet_of(SHEET_HEADER, SHEET_ROWS, first)
    fixed = ProblemSheet(sheet.header, [(*row[:2], "8/2/2019", *row[3:]) for row in sheet.rows])
    (found,) = judged_file(written(fixed, form), known=known)
    assert found.state is RowState.NEW
    assert found.values["notes"] == "=cmd()"
    known = fleet_after([found], known=known)
    (again,) = judged_file(written(fixed, form), known=known)
    assert again.state is RowState.ALREADY_HERE
    whole = [*SHEET_ROWS[:1], *make_rows(("Flute", "Maker B", "8/2/2019"), first=3), *SHEET_ROWS[2:]]
    assert {judgement.state for judgement in judged(whole, *SHEET_HEADER, known=known)} == {RowState.ALREADY_HERE}


def test_a_row_that_comes_back_still_wrong_keeps_its_first_mark_and_no_columns_double():
    sheet = sheet_of(SHEET_HEADER, SHEET_ROWS, judged(SHEET_ROWS, *SHEET_HEADER))
    back = read_sheet(data=written(sheet, "csv"), filename="a.csv", is_heading=is_heading)
    rows = list(back.rows)
    again = sheet_of(back.header, rows, judged(rows, *back.header))
    assert again.header == sheet.header
    assert again.rows[0][-1] == sheet.rows[0][-1]
