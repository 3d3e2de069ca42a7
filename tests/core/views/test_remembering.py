"""A list as each person left it. Common practice, no source; that a link shows what its sender saw is what links are for."""

from __future__ import annotations

import pytest
from django.urls import reverse

from core.models import User
from tests.factories import make_instrument, make_user
from tests.loans.makers import make_loan

pytestmark = [pytest.mark.django_db, pytest.mark.page]
URL = reverse("inventory:list")
HERE = {"referer": f"http://testserver{URL}"}


def test_filters_set_on_the_list_come_back_and_those_of_a_link_followed_do_not(client, director, school):
    make_instrument(school=school)
    client.force_login(director)
    client.get(URL, {"kind": "tuba"})  # a link on another page, or from somebody else
    assert client.get(URL).status_code == 200
    asked = {"kind": "flute", "sort": "-kind", "q": "Greta", "funding": "Gift of Greta", "page": "2", "verdict": ""}
    client.get(URL, asked, headers=HERE)
    assert client.get(URL).headers["Location"] == f"{URL}?kind=flute&sort=-kind"
    assert "In storage" in client.get(URL, {"whereabouts": "in_store"}).text  # the address wins, and changes nothing
    assert client.get(URL).headers["Location"] == f"{URL}?kind=flute&sort=-kind"
    assert client.get(URL, headers=HERE).status_code == 200  # the last filter was taken away
    assert client.get(URL).status_code == 200


def test_what_no_filter_takes_and_what_is_shown_anyhow_is_not_kept(client, director, school):
    client.force_login(director)
    client.get(URL, {"kind": "no such kind", "other": "x", "sort": "no_column"}, headers=HERE)
    client.get(reverse("loans:list"), {"state": "open"}, headers={"hx-request": "true"})
    assert User.objects.get(pk=director.pk).lists == {}


def test_columns_are_each_persons_own_and_files_have_them_all(client, director, school):
    make_instrument(school=school, serial="S-77", maker="Plain")
    client.force_login(director)
    page = client.get(URL).text
    offered = ["maker", "serial", "verdict"]
    assert all(f'name="offered" value="{name}"' in page for name in offered)
    assert 'name="offered" value="asset_number"' not in page
    answer = client.post(
        URL, {"offered": offered, "shown": ["maker"]}, headers=HERE | {"referer": HERE["referer"] + "?a=b"}
    )
    assert answer.headers["Location"] == f"{URL}?a=b"
    page = client.get(URL).text
    assert "S-77" not in page
    assert "Plain" in page
    assert "S-77" in b"".join(client.get(reverse("inventory:export", args=["csv"]))).decode()
    other = make_user("director", school=school)
    client.force_login(other)
    assert "S-77" in client.get(URL).text
    client.force_login(User.objects.get(pk=director.pk))
    client.post(URL, {"offered": offered, "first": "1"}, headers=HERE)
    assert "S-77" in client.get(URL).text


def test_a_column_that_was_not_offered_stays_hidden_and_a_search_stays_a_search(client, director, school):
    loan = make_loan(school=school)
    client.force_login(director)
    url = reverse("loans:list")
    client.post(url, {"offered": ["returned_at"]})
    client.post(url, {"offered": ["kind", "grade"], "shown": ["kind", "grade"]})
    assert User.objects.get(pk=director.pk).lists == {"loans": {"hidden": ["returned_at"]}}
    page = client.post(url, {"q": loan.instrument.asset_number}, follow=True).text
    assert loan.instrument.asset_number in page
