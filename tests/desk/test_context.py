"""The top of every page: who somebody is, and where they may go."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import AnonymousUser
from django.test import RequestFactory
from django.urls import get_resolver, reverse

from desk.context import INNER_ROOMS, role_line, rooms
from inventory.models import Role
from tests.factories import make_user


def rooms_of(user, path="/"):
    request = RequestFactory().get(path)
    request.user = user
    return rooms(request)


def test_the_public_is_told_of_no_room():
    assert rooms_of(AnonymousUser()) == {}


def test_a_page_without_a_user_has_no_rooms():
    assert rooms(RequestFactory().get("/")) == {}


def test_a_director_sees_loans_and_no_set_up(director):
    labels = [room["label"] for room in rooms_of(director)["nav"]]
    assert {"Today", "Instruments", "Loans"} <= set(labels)
    assert "Setup" not in labels


def test_a_tech_sees_the_bench(tech):
    assert "Bench" in [room["label"] for room in rooms_of(tech)["nav"]]


@pytest.mark.parametrize("name", ["settings", "schools", "people"])
def test_set_up_is_one_room_though_its_pages_lie_below_the_instruments(administrator, name):
    nav = rooms_of(administrator, reverse(f"inventory:{name}"))["nav"]
    assert [room["label"] for room in nav if room["inside"]] == ["Setup"]
    assert [room["label"] for room in nav if not room["elsewhere"]] == ["Setup"]


@pytest.mark.parametrize(
    ("path", "room"),
    [
        ("/i/CF-0001/", "Instruments"),
        ("/fit/CF-0001/", "Instruments"),
        ("/lend/", "Loans"),
        ("/take-back/CF-0001/", "Loans"),
        ("/sign/print/", "Loans"),
        ("/P/ABCD2345", "Loans"),
        (reverse("desk:picked-due"), "Loans"),
        (reverse("desk:picked-links"), "Loans"),
        (reverse("desk:picked-move"), "Instruments"),
    ],
)
def test_a_page_that_joins_rooms_names_the_one_it_belongs_to(director, path, room):
    assert [one["label"] for one in rooms_of(director, path)["nav"] if one["inside"]] == [room]


def test_the_benchs_day_belongs_to_the_bench(tech):
    assert [one["label"] for one in rooms_of(tech, reverse("desk:bench-day"))["nav"] if one["inside"]] == ["Bench"]


def test_a_page_of_the_instruments_is_no_set_up(administrator):
    nav = rooms_of(administrator, reverse("inventory:list"))["nav"]
    assert not [room["label"] for room in nav if room["inside"] or room["elsewhere"]]


def test_an_administrator_sees_the_set_up(administrator):
    assert "Setup" in [room["label"] for room in rooms_of(administrator)["nav"]]


def test_the_line_names_school_and_role(director):
    assert role_line(director) == "Elm Street Middle · director"


def test_a_role_without_a_school_is_the_districts(auditor):
    assert role_line(auditor) == "District auditor"


def test_somebody_without_a_role_is_called_by_name(school):
    assert role_line(make_user(name="Nobody Yet")) == "Nobody Yet"


def test_roles_are_read_once_for_permissions_and_line(director, django_assert_num_queries):
    with django_assert_num_queries(1):
        rooms_of(director)


def test_the_eldest_role_names_the_line(school):
    user = make_user(Role.DIRECTOR, Role.TECH, school=school)
    assert role_line(user).endswith("director")


def test_every_beginning_named_here_is_that_of_some_page():
    """Common practice, no source: a page that moved to another address must not lose its mark in the menu."""
    parts = get_resolver().url_patterns
    routes = {f"/{part.pattern}{one.pattern}" for part in parts for one in getattr(part, "url_patterns", ())}
    for _room, starts in INNER_ROOMS:
        assert [start for start in map(str, starts) if not any(route.startswith(start) for route in routes)] == []
