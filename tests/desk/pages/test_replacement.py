"""Words and files of the need to replace."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from core.money import dollars
from desk.pages.replacement import (
    FIRST_HEADER,
    KINDS_HEADER,
    YEARS_HEADER,
    answer_of,
    ends_of,
    first_lines,
    first_rows,
    kind_lines,
    kind_rows,
    marks_of,
    origin_words,
    school_lines,
    year_lines,
    year_rows,
    years_chart,
)
from desk.selectors.replacement import need_of
from inventory.rules.survivors import Origin, SurvivorCurve
from tests.factories import TODAY, make_instrument

pytestmark = [pytest.mark.django_db, pytest.mark.page]
D = Decimal


@pytest.fixture
def need(school):
    """A trumpet of 1990, one of 2024, and a tuba of no known age."""
    make_instrument(school=school, asset_number="TD-0001", year_made=2024)
    make_instrument(school=school, asset_number="TD-0002", year_made=1990)
    make_instrument(school=school, asset_number="TD-0003", kind_code="tuba", replacement_amount=D(5000))
    return need_of(schools=None, today=TODAY)


def test_the_page_says_the_sums_of_the_rule(need):
    lines, rows = year_lines(need), list(year_rows(need))
    assert [line["mean"] for line in lines] == [dollars(round(year.mean_amount)) for year in need.years]
    assert sum(row[2] for row in rows) == sum(year.mean_amount for year in need.years)
    answer = answer_of(need)
    assert answer["all"] == dollars(round(sum(row[2] for row in rows)))
    assert (answer["mean"], answer["of"]) == (lines[0]["mean"], "3")
    assert (lines[0]["to"], lines[-1]["to"], rows[0][0]) == ("to Sep 2027", "to Sep 2036", date(2027, 9, 14))
    assert all(len(row) == len(YEARS_HEADER) for row in rows)


def test_the_chart_draws_the_years_with_their_range(need):
    chart = years_chart(need)
    (series,) = chart.series
    assert [Decimal(str(value)) for value in series.values] == [year.mean_amount for year in need.years]
    assert all(low <= high for low, high in series.ranges)
    assert (chart.labels[0], chart.labels[-1]) == ("2027", "2036")
    assert chart.formatter(series.values[0]) in chart.summary


def test_who_asks_on_a_leap_day_counts_from_the_day_before():
    assert ends_of(date(2028, 2, 29), years=4)[::3] == [date(2029, 2, 28), date(2032, 2, 28)]


def test_the_oldest_goes_first_and_is_linked(need, school):
    first, *others = first_lines(need, names={school.pk: school.name})
    assert (first["number"], first["kind"], first["school"]) == ("TD-0002", "Trumpet", school.name)
    assert first["url"] == reverse("desk:instrument", args=["TD-0002"])
    assert first["words"].startswith("36 years old")
    assert len(others) == 2
    assert len(first_lines(need, names={}, units=need.first[1:2])) == 1
    rows = list(first_rows(need, names={school.pk: school.name}))
    assert [row[0] for row in rows] == [1, 2, 3]
    assert dict(zip(FIRST_HEADER, rows[0], strict=True))["Replacement cost"] == 650


def test_a_school_has_its_own_line(need, school):
    (line,) = school_lines(need, names={school.pk: school.name, 0: "Nowhere"})
    assert (line["name"], line["instruments"]) == (school.name, 3)
    assert line["budget"] == dollars(round(need.budget))
    assert line["mean"] == year_lines(need)[0]["mean"]


def test_how_long_a_kind_lasts_and_where_that_comes_from(need):
    trumpet, tuba = kind_lines(need)
    assert (trumpet["name"], trumpet["instruments"], tuba["name"]) == ("Trumpet", 2, "Tuba")
    assert trumpet["origin"] == "catalog: 10 to 20 years"
    assert (trumpet["quarter"], trumpet["three_quarters"]) == ("10.0", "20.0")
    learned = SurvivorCurve(3, 15, origin=Origin.LEARNED, retirements=31)
    half = SurvivorCurve(3, 15, origin=Origin.SCALE_LEARNED, retirements=6)
    assert origin_words("trumpet", learned, need=need) == "31 retired by the district"
    assert "from 6 retired by the district, spread from the catalog" in origin_words("trumpet", half, need=need)
    assert all(len(row) == len(KINDS_HEADER) for row in kind_rows(need))


def test_what_is_not_known_is_said(need):
    marks = marks_of(need)
    told = " ".join(mark["words"] for mark in marks)
    assert [mark["url"].partition("?")[2] for mark in marks if "replacement cost" in mark["words"]] == [
        "scope=in_use&without=price"
    ]
    assert "3 of kinds with fewer than 5 retired by the district" in told
    assert "1 of unknown age" in told
    assert "2 without a replacement cost on record" in told
    assert "3 never inspected" in told
    assert "kept for parts" not in told


def test_nothing_in_use_needs_nothing():
    need = need_of(schools=[], today=TODAY)
    assert {line["mean"] for line in year_lines(need)} == {"$0"}
    assert marks_of(need) == []
