from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.models import Tag
from tests.factories import NOW, make_instrument, make_school

pytestmark = pytest.mark.django_db
LABELS = reverse("inventory:labels")


@pytest.fixture(autouse=True)
def _address(settings):
    settings.PUBLIC_ADDRESS = "https://horns.elm.example"


def test_the_page_counts_labels_and_sheets(client, director, school):
    for _ in range(2):
        make_instrument(school=school)
    make_instrument(school=school, issue_tag_too=False)
    make_instrument(school=make_school())
    client.force_login(director)
    assert "3 labels on 1 sheet" in client.get(LABELS).text


def test_every_place_of_the_sheet_can_be_tapped(client, director, school):
    make_instrument(school=school)
    client.force_login(director)
    assert client.get(f"{LABELS}?sheet=25round").text.count('name="start"') == 63


def test_printing_gives_a_pdf_and_notes_the_tags(client, director, school):
    make_instrument(school=school, issue_tag_too=False)
    client.force_login(director)
    answer = client.post(LABELS, {"which": "unprinted", "sheet": "20up", "start": "5"})
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
    assert Tag.objects.get().printed_at is not None
    assert "Every tag here has been printed" in client.get(LABELS).text


def test_one_tag_alone_is_printed_again(client, director, school):
    for _ in range(2):
        make_instrument(school=school)
    Tag.objects.update(printed_at=NOW)
    client.force_login(director)
    assert "1 label on 1 sheet" in client.get(f"{LABELS}?tag={Tag.objects.first().pk}").text


def test_without_an_address_it_is_refused_with_the_way_out(client, director, school, settings):
    settings.PUBLIC_ADDRESS = ""
    make_instrument(school=school, issue_tag_too=False)
    client.force_login(director)
    page = client.get(LABELS).text
    assert "HORNBOOK_PUBLIC_ADDRESS" in page
    assert 'name="start"' not in page
    answer = client.post(LABELS, {"start": "1"})
    assert answer.status_code == 422
    assert not Tag.objects.exists()


def test_in_the_demo_the_sheet_is_marked_instead(client, director, school, settings):
    settings.PUBLIC_ADDRESS, settings.DEMO = "", True
    make_instrument(school=school)
    client.force_login(director)
    assert "This is a demo" in client.get(LABELS).text
    assert client.post(LABELS, {"start": "1"})["Content-Type"] == "application/pdf"


@pytest.mark.parametrize(
    ("posted", "says"),
    [
        ({"start": "31", "sheet": "30up"}, "Position 31"),
        ({"start": ""}, "Tap the position"),
        ({"start": "1", "numbers": "NOPE"}, "no labels to print"),
    ],
    ids=["place beyond the sheet", "no place", "nothing to print"],
)
def test_a_print_that_cannot_be_says_why(client, director, school, posted, says):
    make_instrument(school=school)
    client.force_login(director)
    answer = client.post(LABELS, posted)
    assert answer.status_code == 422
    assert says in answer.text
    assert Tag.objects.get().printed_at is None


def test_numbers_of_other_schools_are_not_known_here(client, director, school):
    theirs = make_instrument(school=make_school())
    client.force_login(director)
    page = client.get(f"{LABELS}?numbers={theirs.asset_number}").text
    assert "Not one of your instruments" in page
    assert "0 labels" in page


def test_another_schools_tag_is_not_printed(client, director, school):
    make_instrument(school=make_school())
    client.force_login(director)
    assert client.post(LABELS, {"tag": Tag.objects.get().pk, "start": "1"}).status_code == 422


def test_the_page_costs_the_same_for_one_and_for_twenty(client, director, school, django_assert_max_num_queries):
    for _ in range(20):
        make_instrument(school=school)
    client.force_login(director)
    with django_assert_max_num_queries(14):
        client.get(LABELS)


def test_more_than_one_print_may_have_are_not_offered(client, director, school, monkeypatch):
    for place in ("selectors", "views"):
        monkeypatch.setattr(f"inventory.{place}.labels.MOST_LABELS", 1)
    for _ in range(2):
        make_instrument(school=school)
    client.force_login(director)
    page = client.get(LABELS).text
    assert "More than 1 labels" in page
    assert 'name="start"' not in page
    answer = client.post(LABELS, {"start": "1"})
    assert answer.status_code == 422
    assert "more than 1 labels" in answer.text
