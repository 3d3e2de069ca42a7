"""Words and files of the value pages."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from desk.pages.value import (
    SCHEDULE_HEADER,
    SUMS_HEADER,
    YEAR_HEADER,
    kind_lines,
    marks_of,
    method_of,
    movement_groups,
    schedule_rows,
    school_lines,
    sums_rows,
    year_rows,
    years_offered,
)
from desk.selectors.value import fleet_value, valued
from desk.selectors.value_year import fiscal_year_of, movements
from inventory.catalog.load import catalog
from inventory.selectors.past import AsOf
from tests.factories import TODAY, make_instrument

pytestmark = [pytest.mark.django_db, pytest.mark.page]

YEAR_END = date(2026, 6, 30)


@pytest.fixture
def trumpet(school):
    """July 2018 for $750; its kind lives 15 years and costs 400 to 900."""
    return make_instrument(
        school=school, acquired_on=date(2018, 7, 1), acquisition_cost_amount=Decimal(750), year_made=2018,
        maker="=Brass", serial="77",
    )  # fmt: skip


def test_a_line_has_a_cell_for_each_heading(trumpet, school):
    fleet, names = fleet_value(AsOf(YEAR_END)), {school.pk: school.name}
    (line,) = school_lines(fleet, names=names)
    assert (line["name"], line["index"], str(line["band"])) == (school.name, "0.0%", "good")
    assert line["url"].endswith(f"?school={school.pk}")
    (row,) = sums_rows([line])
    cells = dict(zip(("School", *SUMS_HEADER), row, strict=True))
    assert (cells["School"], cells["Instruments"], cells["Book value"]) == (school.name, 1, Decimal("350.00"))
    assert (cells["Condition index"], cells["Priced by kind"]) == (0, 1)


def test_a_kind_is_charged_as_a_group(trumpet):
    """750 over 15 years is 50 a year, 6.67 %."""
    fleet = fleet_value(AsOf(YEAR_END))
    (line,) = kind_lines(fleet)
    assert (line["life"], line["yearly"], line["group_book"]) == (15, 50, Decimal("350.00"))
    told = method_of(fleet)
    assert (told["rate"], told["life"], told["yearly"], told["growth"]) == ("6.67%", "15.0", "$50", "3%")


def test_what_is_not_known_is_said(trumpet, school):
    make_instrument(school=school)
    marks = marks_of(fleet_value(AsOf(TODAY)).total, is_now=True)
    told = " ".join(mark["words"] for mark in marks)
    assert "1 without a recorded cost" in told
    assert "1 without an acquisition date" in told
    assert "2 without a replacement cost on record" in told
    assert "2 not inspected" in told
    assert marks[0]["url"] == f"{reverse('desk:property')}?scope=all&without=cost"
    assert {mark["url"] for mark in marks_of(fleet_value(AsOf(TODAY)).total, is_now=False)} == {""}
    assert marks_of(fleet_value(AsOf(date(2000, 1, 1))).total, is_now=True) == []


def test_the_schedule_has_a_line_for_each_instrument(trumpet, school):
    trade = catalog()
    rows = schedule_rows(
        valued(AsOf(YEAR_END), trade=trade), names={school.pk: school.name}, trade=trade,
        texts=lambda keys: dict.fromkeys(keys, ("=Brass", "", "77")),
    )  # fmt: skip
    (row,) = rows
    cells = dict(zip(SCHEDULE_HEADER, row, strict=True))
    assert (cells["Asset number"], cells["Kind"], cells["Serial"]) == (trumpet.asset_number, "Trumpet", "77")
    assert (cells["Replacement cost"], cells["Replacement cost basis"]) == (650, "midpoint of the kind's price range")
    assert (cells["As-is value"], cells["Capital asset or supply"]) == (Decimal("338.00"), "supply")


def test_fiscal_years_are_offered_this_one_first():
    offered = years_offered(TODAY, trade=catalog())
    assert offered[0] == ("2026-07-01", "Jul 1, 2026 – Jun 30, 2027")
    assert [value for value, _ in offered][-1] == "2017-07-01"


def test_a_number_is_a_link_only_where_the_page_may_be_opened(trumpet, school):
    year = fiscal_year_of(date(2018, 7, 1), date(2019, 6, 30))
    names = {school.pk: school.name}
    (seen,) = movement_groups(year, names=names, seen=frozenset({school.pk}))[0]["lines"]
    (unseen,) = movement_groups(year, names={}, seen=frozenset())[0]["lines"]
    assert trumpet.asset_number in seen["url"]
    assert (unseen["url"], unseen["where"], seen["where"]) == ("", "another school", school.name)


def test_a_file_of_a_fiscal_year_has_a_line_for_each_movement(trumpet, school):
    some = movements(date(2018, 7, 1), date(2019, 6, 30))
    (row,) = year_rows(some, names={school.pk: school.name}, trade=catalog())
    assert dict(zip(YEAR_HEADER, row, strict=True)) == {
        "What": "Added", "On": date(2018, 7, 1), "Asset number": trumpet.asset_number, "Kind": "Trumpet",
        "From school": "", "To school": school.name, "Cost": 750, "Book value that day": 750,
    }  # fmt: skip
