"""The property record in words: 2 CFR 200.313(d)(1), revision of 2024, field by field."""

from __future__ import annotations

from collections import Counter
from datetime import date
from decimal import Decimal

import pytest

from desk.pages.property import HEADER, count_lines, location_words, maintenance_rows, record_rows, summary, use_words
from inventory.models import Instrument
from inventory.selectors.property import ALL, ANY, MISSING, RULED
from tests.factories import make_instrument, make_ready_instrument, make_room
from tests.inventory.leaving_makers import make_disposal

# The fields of the rule, and the columns that hold them.
OF_THE_RULE = {
    "description": "Description",
    "serial number or another identification number": "Asset number",
    "source of funding": "Funding source",
    "FAIN": "Award number",
    "title holder": "Title holder",
    "acquisition date": "Acquired on",
    "cost": "Cost",
    "percentage of the Federal agency contribution": "Federal percent",
    "location": "Location",
    "use": "Use",
    "condition": "Condition",
    "date of disposal": "Disposed of on",
    "sale price": "Sale price",
}


def records():
    header = [str(one) for one in HEADER]
    return [dict(zip(header, row, strict=True)) for row in record_rows(Instrument.objects.all())]


def test_each_field_of_the_rule_has_a_column():
    assert set(OF_THE_RULE.values()) <= {str(one) for one in HEADER}


def test_a_record_holds_what_is_known_and_says_what_is_missing(school):
    room = make_room(school=school, name="Annex")
    make_ready_instrument(
        school=school, room=room, place="Shelf 3", asset_number="P1", maker="Plain", model="B", funding_source="Levy",
        acquired_on=date(2024, 8, 1), acquisition_cost_amount=Decimal(900), federal_percent=Decimal(0),
    )  # fmt: skip
    make_instrument(school=school, asset_number="P2")
    make_disposal(make_instrument(school=school, asset_number="P3"))
    first, second, third = records()
    assert (first["Description"], first["Location"], first["Use"]) == (
        "Trumpet, Plain, B",
        "Annex, Shelf 3",
        "Band program",
    )
    assert (first["Title holder"], first["Missing"], first["Cost"]) == ("Test District", "", 900)
    assert second["Missing"] == "funding source, acquisition date, cost, location, condition"
    assert (third["How"], third["Sale price"], third["Missing"]) == ("Sold", 40, "")
    assert third["Location"] == "Gone"


@pytest.mark.parametrize(
    ("fields", "use", "where"),
    [
        ({"whereabouts": "with_student"}, "With a student", ""),
        ({"is_parts_instrument": True}, "Kept for parts", ""),
        ({"is_retired": True}, "Retired", ""),
        ({"whereabouts": "not_found"}, "Not found", "Not found"),
        ({"whereabouts": "gone"}, "", "Gone"),
    ],
)
def test_use_and_location_follow_from_where_it_is(fields, use, where):
    row = Instrument(**fields)
    assert (use_words(row), location_words(row)) == (use, where)


def test_each_count_leads_to_its_rows():
    lines = count_lines(Counter({"funding": 3}), scope="federal")
    assert [line["count"] for line in lines] == [3, *[0] * (len(MISSING) - 1)]
    assert sum(line["is_asked"] for line in lines) == len(RULED)
    assert lines[0]["url"].endswith("?scope=federal&without=funding")
    assert [one["sum"] for one in summary(Counter({ALL: 5, ANY: 2}), scope="all")] == ["5", "3", "2"]


def test_maintenance_is_listed_in_words(school, tech):
    horn = make_ready_instrument(school=school)
    assert [row[1] for row in maintenance_rows(horn)] == ["Inspected"]
