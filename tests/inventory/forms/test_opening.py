from __future__ import annotations

import pytest

from inventory.forms.opening import OpeningForm
from tests.factories import make_district, make_school, make_user

pytestmark = pytest.mark.django_db
GOOD = "slide-grease-and-kindness"


def typed(**changed):
    return {
        "district": "Alder Valley",
        "asset_prefix": "av-",
        "asset_digits": "4",
        "next_asset_number": "1",
        "school": "Cedar Fork Middle",
        "code": "cfm",
        "rooms": " Band room \r\n\r\nCage  shelf\n",
        "name": "Adi Admin",
        "username": "adi",
        "password": GOOD,
        "again": GOOD,
        "is_director": "on",
        "time_zone": "America/Chicago",
        "bench_rate_amount": "30",
        "school_year_ends_month": "5",
        "school_year_ends_day": "29",
    } | changed


def test_what_was_typed_is_what_the_service_takes():
    form = OpeningForm(typed())
    assert form.errors == {}
    opening = form.opening()
    assert opening.district == {
        "name": "Alder Valley",
        "asset_prefix": "AV-",
        "asset_digits": 4,
        "next_asset_number": 1,
    }
    assert opening.school == {"name": "Cedar Fork Middle", "code": "CFM"}
    assert opening.rooms == ["Band room", "Cage shelf"]
    assert opening.person == {"name": "Adi Admin", "username": "adi", "password": GOOD}
    assert opening.figures == {"time_zone": "America/Chicago", "bench_rate_amount": "30", "school_year_ends": "5-29"}


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("district", " ", "This field is required."),
        ("asset_prefix", "a b", "Capitals, digits and hyphens only."),
        ("asset_digits", "2", "Ensure this value is greater than or equal to 3."),
        ("next_asset_number", "-4", "Ensure this value is greater than or equal to 0."),
        ("code", "x", "Two to eight capitals or digits."),
        ("code", "elm", "A school already has the code ELM."),
        ("rooms", " \n ", "This field is required."),
        ("rooms", "x" * 81, "A room's name has at most 80 letters."),
        ("rooms", "\n".join(map(str, range(61))), "Begin with at most 60 rooms."),
        ("username", "TECH", "The user name TECH is taken."),
        ("password", "short", "The passwords do not match."),
        ("bench_rate_amount", "301", "Enter a number from 0 to 300."),
        ("school_year_ends_day", "31", ""),
        ("time_zone", "Mars/Olympus", "Select a valid choice. Mars/Olympus is not one of the available choices."),
    ],
)
def test_what_is_refused_says_so_at_its_field(field, value, says):
    make_school(code="ELM")
    make_user(username="tech")
    form = OpeningForm(typed(**{field: value}))
    where = "again" if field == "password" else field
    if says:
        assert form.errors == {where: [says]}
    else:  # May has 31 days, June does not
        assert form.errors == {}
        assert OpeningForm(typed(school_year_ends_month="6", **{field: value})).errors == {
            "school_year_ends": ["That month does not have that day."]
        }


@pytest.mark.parametrize("password", ["aaaa", "123456789012345", "password1234", "alder adi admin"])
def test_a_weak_password_is_refused_at_its_field(password):
    form = OpeningForm(typed(password=password, again=password, name="Adi Admin", username="alder adi admin"))
    assert list(form.errors) == ["password"]


def test_the_password_is_kept_as_it_was_typed_as_the_log_in_takes_it():
    form = OpeningForm(typed(password=f" {GOOD} ", again=f" {GOOD} "))
    assert form.is_valid()
    assert form.opening().person["password"] == f" {GOOD} "
    assert list(OpeningForm(typed(again=f"{GOOD} ")).errors) == ["again"]


def test_every_field_stands_on_the_page_once():
    form = OpeningForm()
    shown = [field.name for _, fields in form.parts for field in fields] + [field.name for field in form.numbering]
    assert sorted(shown) == sorted(form.fields)
    assert not form.has_wrong_numbering
    assert OpeningForm(typed(asset_digits="x")).has_wrong_numbering


def test_a_district_that_was_named_before_is_shown():
    form = OpeningForm(district=make_district(name="Alder Valley", next_asset_number=41))
    assert (form.fields["district"].initial, form.fields["next_asset_number"].initial) == ("Alder Valley", 41)
