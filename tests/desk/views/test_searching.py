"""The box in the header: what is typed stands in no address, and leads on."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.factories import make_instrument, make_school, make_student
from tests.loans.makers import make_loan

pytestmark = pytest.mark.django_db
SEARCH = reverse("desk:search")


def test_what_is_typed_stands_in_no_address(client, director, school):
    make_student(school=school, name="Rosa Lindqvist")
    client.force_login(director)
    sent = client.post(SEARCH, {"q": "rosa lindqvist"})
    assert sent.status_code == 302
    assert sent.url.startswith(f"{SEARCH}?search=")
    assert "rosa" not in sent.url.lower()
    page = client.get(sent.url).text
    assert "<strong>Rosa Lindqvist</strong>" in page
    assert 'value="rosa lindqvist"' in page
    assert "Rosa" not in client.get(f"{SEARCH}?q=rosa").text


def test_a_whole_number_leads_straight_to_the_instrument(client, director, school):
    make_instrument(school=school, asset_number="TV-0019")
    client.force_login(director)
    sent = client.post(SEARCH, {"q": "tv19"}, follow=True)
    assert sent.redirect_chain[-1][0] == reverse("desk:instrument", args=["TV-0019"])


def test_more_than_is_shown_leads_to_the_list_by_the_same_key(client, director, school):
    for number in range(14):
        make_student(school=school, name=f"Reed {number:02d}")
    client.force_login(director)
    sent = client.post(SEARCH, {"q": "reed"})
    key = sent.url.partition("search=")[2]
    everybody = f"{reverse('loans:students')}?state=all&amp;search={key}"
    assert everybody in client.get(sent.url).text
    assert "14 students" in client.get(everybody.replace("&amp;", "&")).text


@pytest.mark.parametrize(("who", "says"), [("director", "Robin Reed"), ("administrator", "a student")])
def test_a_loan_names_the_student_to_those_alone_who_may_know(client, request, school, who, says):
    loan = make_loan(school=school, student=make_student(school=school, name="Robin Reed"))
    kind = loan.instrument.kind.name
    client.force_login(request.getfixturevalue(who))
    page = client.get(client.post(SEARCH, {"q": f"{loan.instrument.asset_number[:3]} {kind}"}).url).text
    assert says in page
    assert ("Robin Reed" in page) == (says == "Robin Reed")


def test_nothing_found_says_so_and_an_empty_box_asks(client, director):
    client.force_login(director)
    assert "Nothing found" in client.get(client.post(SEARCH, {"q": "zzzz"}).url).text
    assert client.post(SEARCH, {"q": "  "}).url == f"{SEARCH}?"
    assert "Nothing found" not in client.get(SEARCH).text


def test_the_header_has_the_box_for_those_who_work_here_alone(client, director, school):
    assert 'class="top-find"' not in client.get(reverse("core:log-in")).text
    client.force_login(director)
    page = client.get(reverse("inventory:list")).text
    assert page.count(f'action="{SEARCH}"') == 1
    assert f'class="find-link" href="{SEARCH}"' in page


def test_another_school_finds_nothing_of_ours(client, school, stranger):
    make_instrument(school=school, asset_number="TV-0019")
    make_instrument(school=make_school(), asset_number="TV-0020")
    client.force_login(stranger)
    page = client.get(client.post(SEARCH, {"q": "tv19"}).url).text
    assert "TV-0019" not in page
