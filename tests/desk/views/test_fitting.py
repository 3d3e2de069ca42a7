from __future__ import annotations

import pytest
from django.urls import reverse

from desk.pages import fitting
from tests.factories import make_ready_instrument, make_student


@pytest.fixture
def instrument(school):
    return make_ready_instrument(school=school)


def test_from_the_instrument_a_student_is_one_tap_from_lending(client, director, school, instrument):
    student = make_student(school=school, name="<b>Robin</b> \u202eReed")
    client.force_login(director)
    page = client.get(reverse("desk:fit", args=[instrument.asset_number])).text
    assert f"{reverse('desk:lend-this', args=[instrument.asset_number])}?student={student.pk}" in page
    assert "<b>Robin" not in page


def test_a_level_with_many_students_leads_to_all_of_them(client, director, school, instrument, monkeypatch):
    monkeypatch.setattr(fitting, "SHOWN", 1)
    make_student(school=school, name="Ada", level="concert")
    make_student(school=school, name="Quill", level="concert")
    client.force_login(director)
    address = reverse("desk:fit", args=[instrument.asset_number])
    first = client.get(address).text
    assert "Ada" in first
    assert "Quill" not in first
    assert "Show all 2 students" in first
    whole = client.get(f"{address}?level=concert").text
    assert "Quill" in whole
    assert "Show all" not in whole


def test_from_the_student_an_instrument_is_one_tap_from_lending(client, director, school, instrument):
    student = make_student(school=school)
    client.force_login(director)
    page = client.get(reverse("desk:suits", args=[student.pk]), {"kind": "trumpet"}).text
    assert f"{reverse('desk:lend-this', args=[instrument.asset_number])}?student={student.pk}" in page


def test_a_school_without_students_says_what_to_do(client, director, instrument):
    client.force_login(director)
    assert "No students yet" in client.get(reverse("desk:fit", args=[instrument.asset_number])).text


def test_a_tech_sees_no_names_of_students(client, tech, instrument, school):
    make_student(school=school)
    client.force_login(tech)
    assert client.get(reverse("desk:fit", args=[instrument.asset_number])).status_code == 403


def test_students_of_another_school_are_not_found(client, director, stranger):
    client.force_login(director)
    assert client.get(reverse("desk:suits", args=[make_student().pk])).status_code == 404
