from inventory.models import Instrument
from loans.models import Assignment, AssignmentLine, ClassPeriod, Student
from loans.pages.assigning import TROUBLE_WORDS, assignment_page, hand_out_groups, line_words, why_words


def make_line(pk, *, why=(), number="", period=None, **fields):
    instrument = Instrument(pk=pk, asset_number=number) if number else None
    return AssignmentLine(
        pk=pk, student=Student(pk=pk, name=f"S{pk}", sort_name=f"S{pk}"), kind_code="trumpet", level="concert", instrument=instrument,
        period=period, why=[{"code": code, "points": points, "number": count} for code, points, count in why], **fields,
    )  # fmt: skip


def test_reasons_say_what_they_cost():
    line = make_line(1, why=[("changed", 8, 0), ("worn", 1, 0), ("drawn", 0, 3)], number="T-1")
    assert why_words(line) == (
        "Not the same one as last time (8 points). It has marks or wear (1 point). Drawn by lot: 3 outcomes were equally good."
    )
    words = line_words(line, "other")
    assert (words["what"], words["level"], words["points"]) == ("Trumpet", "Concert band", 9)
    assert words["trouble_words"] == "It is now with somebody else."


def test_lines_stand_by_class_with_those_that_need_a_look_first():
    band = ClassPeriod(pk=1, name="Period 1")
    lines = [
        make_line(1, why=[("same", 0, 0)], number="T-1", period=band),
        make_line(2, why=[("too_few", 0, 1)], period=band),
        make_line(3, why=[("worn", 2, 0)], number="T-2"),
        make_line(4, why=[("no_longer", 0, 0)]),
    ]
    page = assignment_page(Assignment(weights={"same": 8}), lines, {1: "lent", 3: "other"})
    assert [(group["title"], len(group["lines"])) for group in page["groups"]] == [
        ("Period 1", 2), ("Outside the timetable", 2),
    ]  # fmt: skip
    assert [one["line"].pk for one in page["conflicts"]] == [3]
    assert [one["line"].pk for one in page["without"]] == [2]
    assert (page["served"], page["all"], page["lent"], page["points"]) == (2, 3, 1, 2)
    assert page["weights"][0] == ("Keeping last time's instrument", 8)
    dropped = assignment_page(Assignment(state="dropped"), lines, {3: "other"})
    assert dropped["conflicts"] == []


def test_only_those_who_get_one_are_on_the_list():
    lines = [make_line(1, number="T-1"), make_line(2)]
    assert [(group["title"], [line.pk for line in group["lines"]]) for group in hand_out_groups(lines)] == [
        ("Outside the timetable", [1])
    ]


def test_everything_that_can_happen_has_words():
    assert set(TROUBLE_WORDS) == {"lent", "left", "has", "other", "moved", "kept"}
