"""The condition of the fleet in words."""

from __future__ import annotations

from collections import Counter
from datetime import date
from decimal import Decimal

import pytest

from core.sheets import Share
from desk.pages.condition import (
    MONTHS_HEADER,
    MOST_BARS,
    SUMS_HEADER,
    age_names,
    answer_of,
    band_lines,
    group_rows,
    groups_of,
    index_words,
    line_of,
    month_lines,
    month_rows,
    months_chart,
    months_summary,
    page_of,
    share,
    stats_of,
    verdict_chart,
    verdict_summary,
)
from desk.selectors.condition import Condition, FleetCondition, Month
from inventory.catalog.load import catalog
from tests.factories import TODAY

D = Decimal
SETTINGS = {"index_good_to": D("0.05"), "index_fair_to": D("0.10"), "index_poor_to": D("0.30")}


def make_condition(plays: int, stuck: int, *, repair: int = 0, value: int = 1000) -> Condition:
    return Condition(
        instruments=plays + stuck,
        verdicts=Counter(plays=plays, does_not_play=stuck),
        readiness=Counter(may_go_out=plays, stays_in=stuck),
        to_repair=stuck,
        minutes=stuck * 90.0,
        repair=D(repair),
        replacement=D(value),
    )


def make_fleet(*conditions: Condition) -> FleetCondition:
    schools = {}
    for pk, (kind, one) in enumerate(zip(("trumpet", "tuba"), conditions, strict=False)):
        schools[pk] = {
            "kinds": {kind: one}, "levels": {"student": one}, "ages": {pk: one}, "funding": {"Title I" if pk else "": one},
        }  # fmt: skip
    return FleetCondition(TODAY, catalog(), schools)


FLEET = make_fleet(make_condition(3, 1, repair=80), make_condition(1, 3, repair=70, value=500))


def line(name: str, condition: Condition) -> dict[str, object]:
    return line_of(name, condition, found=FLEET)


def test_the_answer_is_a_sentence_with_the_sums():
    """By hand: (80 + 70) / (1000 + 500) = 10.0%, fair; 4 times 90 minutes are 6 hours."""
    assert answer_of(FLEET) == (
        "4 of 8 instruments are not in playing condition. Repairing them all takes $150 and 6 bench hours; replacing the "
        "fleet would cost $1,500. That is a condition index of 10.0%: fair."
    )
    assert [one["sum"] for one in stats_of(FLEET)] == ["8", "50.0%", "$150", "6", "10.0%"]
    assert answer_of(make_fleet()).startswith("No instruments are held")
    assert [one["sum"] for one in stats_of(make_fleet())] == ["0", "—", "$0", "0", "—"]


def test_groups_have_a_table_and_a_chart_each():
    groups = {one["code"]: one for one in groups_of(FLEET, names={0: "Elm", 1: "Oak"})}
    assert list(groups) == ["schools", "kinds", "levels", "ages", "funding"]
    assert [one["name"] for one in groups["kinds"]["lines"]] == ["Trumpet", "Tuba"]
    assert [one["name"] for one in groups["funding"]["lines"]] == ["Not recorded", "Title I"]
    assert groups["schools"]["lines"][0]["url"].endswith("?school=0")
    assert groups["funding"]["lines"][0]["url"] == ""
    chart = groups["schools"]["chart"]
    assert [(one.name, list(one.values)) for one in chart.series] == [
        ("Plays", [3, 1]), ("Plays with limits", [0, 0]), ("Does not play", [1, 3]), ("Not inspected", [0, 0]),
    ]  # fmt: skip
    assert "schools" not in {one["code"] for one in groups_of(FLEET, names={0: "Elm"})}


def test_a_summary_names_the_ends():
    elm, oak = line("Elm", make_condition(3, 1)), line("Oak", make_condition(1, 3))
    assert verdict_summary([elm, oak], left=0) == (
        "The largest share plays as it should in the group Elm (75%), the smallest in Oak (25%)."
    )
    assert verdict_summary([elm], left=0) == "Elm: 75% play as they should."
    assert verdict_summary([elm, line("Ash", make_condition(3, 1))], left=2).startswith("Everywhere 75%")
    assert verdict_summary([elm], left=2).endswith("2 smaller groups are only in the table.")
    assert verdict_summary([], left=0) == "There are no instruments."


def test_of_many_groups_the_largest_are_drawn():
    lines = [line(f"School {number}", make_condition(number, 0)) for number in range(1, MOST_BARS + 4)]
    chart = verdict_chart("schools", "By school", lines)
    assert len(chart.labels) == MOST_BARS
    assert "School 1" not in chart.labels
    assert "3 smaller groups" in chart.summary


@pytest.mark.parametrize(
    ("repairs", "words"),
    [
        ([], "No history yet"),
        ([80], "was 8.0%: fair"),
        ([80, 120], "rose from 8.0% to 12.0%: poor"),
        ([120, 40], "fell from 12.0% to 4.0%: good"),
        ([80, 80], "stayed at 8.0%: fair"),
    ],
)
def test_the_course_over_time_is_a_sentence(repairs, words):
    months = [Month(date(2026, 6 + place, 30), 5, D(repair), D(1000)) for place, repair in enumerate(repairs)]
    assert words in months_summary(months, settings=SETTINGS)
    chart = months_chart(months, found=FLEET)
    assert list(chart.series[0].values) == [float(one) / 1000 for one in repairs]
    assert [one["index"] for one in month_lines(months, today=TODAY)] == [index_words(one) for one in reversed(months)]


def test_the_course_reaches_to_today():
    """By hand: 120 / 1000 at the end of August, (80 + 70) / 1500 today, as the head of the page has it."""
    page = page_of(FLEET, [Month(date(2026, 8, 31), 8, D(120), D(1000))], names={}, of="All schools")
    assert [(one["name"], one["index"]) for one in page["months"]] == [("Today", "10.0%"), ("Aug 2026", "12.0%")]
    assert "From Aug 31, 2026 to Sep 14, 2026 the condition index fell from 12.0% to 10.0%: fair." in (
        page["months_chart"].summary
    )
    assert page_of(FLEET, [Month(TODAY, 8, D(150), D(1500))], names={}, of="")["months"][0]["index"] == "10.0%"
    assert page_of(FLEET, [], names={}, of="")["months"] == []


def test_bands_and_ages_in_words():
    assert band_lines(SETTINGS) == ["good up to 5%", "fair up to 10%", "poor up to 30%", "critical above that"]
    assert list(age_names().values()) == [
        "under 5 years", "5 to 9 years", "10 to 14 years", "15 to 19 years", "20 years and older", "Unknown age",
    ]  # fmt: skip
    assert (share(1, 8), share(1, 0)) == ("12.5%", "")


def test_files_have_a_cell_for_each_heading():
    (row,) = group_rows([line("Elm", make_condition(3, 1, repair=80))])
    assert len(row) == len(SUMS_HEADER) + 1
    assert row[-4:] == (D("1.5"), D(80), D(1000), D("0.0800"))
    assert isinstance(row[-1], Share)  # in percent in a workbook
    (month,) = month_rows([Month(date(2026, 8, 31), 5, D(80), D(1000))])
    assert len(month) == len(MONTHS_HEADER)
