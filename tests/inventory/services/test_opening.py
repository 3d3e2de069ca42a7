from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event, User
from inventory.exceptions import RefusedError
from inventory.models import District, Figure, OpeningLink, Role, Room, School, StaffRole
from inventory.selectors.opening import Standing
from inventory.services.opening import (
    LASTS,
    ClosedLinkError,
    Opening,
    code_for,
    make_opening_link,
    open_district,
    put_first_steps_aside,
)
from inventory.services.people import add_school
from tests.contests import MANY, at_once, went_well
from tests.factories import NOW, make_district, make_user

pytestmark = pytest.mark.django_db
GOOD = "slide-grease-and-kindness"


def opening(**changed):
    given = {
        "district": {"name": "Alder Valley", "asset_prefix": "AV-", "asset_digits": 4, "next_asset_number": 7},
        "school": {"name": "Cedar Fork Middle", "code": ""},
        "rooms": ["Band room", "Cage", "band room"],
        "person": {"name": "Adi Admin", "username": "adi", "password": GOOD},
        "is_director": True,
        "figures": {"time_zone": "America/Denver", "bench_rate_amount": "35", "school_year_ends": "6-5"},
    } | changed
    return Opening(**given)


def begin(token=None, at=NOW, **changed):
    token = make_opening_link(at=NOW) if token is None else token
    return open_district(token=token, opening=opening(**changed), at=at)


def refusal(*link, **changed):
    with pytest.raises(ClosedLinkError) as refused:
        begin(*link, **changed)
    return refused.value.standing


def counts():
    rows = (District, School, Room, User, StaffRole, Figure)
    return [model.objects.count() for model in rows]


def test_the_link_opens_the_place_once_with_everything_in_it():
    token = make_opening_link(at=NOW)
    person = begin(token)
    assert person.check_password(GOOD)
    assert sorted(StaffRole.objects.values_list("role", "school__code")) == [
        ("administrator", None),
        ("director", "CFM"),
    ]
    assert [room.name for room in Room.objects.all()] == ["Band room", "Cage"]
    assert District.objects.get().asset_number(7) == "AV-0007"
    assert dict(Figure.objects.values_list("key", "value")) == {
        "time_zone": "America/Denver",
        "bench_rate_amount": "35",
        "school_year_ends": "06-05",
    }
    assert {row.set_by for row in Figure.objects.all()} == {person}
    assert Event.objects.filter(act="opened_by_link", after={"user": person.pk}).count() == 1
    assert refusal(token) is Standing.USED
    assert counts() == [1, 1, 2, 1, 2, 3]


def test_who_does_not_direct_a_band_only_administers():
    begin(is_director=False)
    assert [held.role for held in StaffRole.objects.all()] == [Role.ADMINISTRATOR]


def test_after_a_day_it_opens_nothing():
    assert refusal(at=NOW + LASTS) is Standing.EXPIRED
    assert counts() == [0] * 6


def test_only_the_link_printed_last_opens():
    old = make_opening_link(at=NOW)
    new = make_opening_link(at=NOW + timedelta(minutes=1))
    assert refusal(old) is Standing.UNKNOWN
    assert begin(new).username == "adi"


def test_where_somebody_administers_no_link_is_made_and_an_old_one_is_void():
    token = make_opening_link(at=NOW)
    make_district()
    make_user(Role.ADMINISTRATOR)
    assert make_opening_link(at=NOW) == ""
    assert refusal(token) is Standing.VOID
    assert School.objects.count() == 0


@pytest.mark.parametrize(
    "wrong",
    [
        {"person": {"name": "Adi Admin", "username": "adi", "password": "short"}},
        {"figures": {"bench_rate_amount": "5000"}},
        {"school": {"name": "Elm", "code": "much too long"}},
        {"district": {"name": "", "asset_prefix": "AV-"}},
    ],
    ids=["password", "figure", "code", "district"],
)
def test_what_is_refused_writes_nothing_and_the_link_still_opens(wrong):
    token = make_opening_link(at=NOW)
    with pytest.raises(RefusedError):
        begin(token, **wrong)
    assert counts() == [0] * 6
    assert begin(token).username == "adi"


def test_a_district_that_was_named_before_keeps_its_rows():
    district = make_district(next_asset_number=41)
    add_school(code="ELM", name="Elm Street", actor=None, at=NOW)
    begin(district={"name": "Alder Valley", "next_asset_number": 41})
    district.refresh_from_db()
    assert (district.name, School.objects.count()) == ("Alder Valley", 2)


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("Cedar Fork Middle School", "CFMS"),
        ("Elm", "ELM"),
        ("Washington", "WASH"),
        ("P.S. 12", "PS1"),
        ("École Été", "EE"),
        ("中学", "S1"),
        ("A", "S1"),
        ("One Two Three Four Five Six Seven Eight Nine Ten", "OTTFFSSE"),
    ],
)
def test_a_code_is_made_from_the_name(name, code):
    assert code_for(name) == code


def test_the_list_is_put_aside_and_taken_up_again():
    make_district(first_steps_aside_at=None)
    person = make_user()
    for is_aside in (True, True, False, False):
        put_first_steps_aside(is_aside=is_aside, actor=person, at=NOW)
        assert (District.objects.get().first_steps_aside_at is not None) == is_aside
    acts = Event.objects.filter(actor=person).order_by("number")
    assert [event.act for event in acts] == ["first_steps_aside", "first_steps_shown"]


def test_before_the_district_is_named_there_is_nothing_to_put_aside():
    put_first_steps_aside(is_aside=True, actor=None, at=NOW)
    assert Event.objects.count() == 0


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("number", [0, *(pytest.param(number, marks=pytest.mark.drill) for number in range(1, MANY))])
def test_of_two_with_the_link_open_the_first_to_send_wins(number):
    token = make_opening_link(at=NOW)
    people = [{"name": f"Person {name}", "username": name, "password": GOOD} for name in ("one", "two")]
    answers = at_once(*[lambda person=person: begin(token, person=person) for person in people])
    assert len(went_well(answers)) == 1
    assert counts() == [1, 1, 2, 1, 2, 3]
    assert OpeningLink.objects.exclude(used_at=None).count() == 1
