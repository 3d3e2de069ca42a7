from __future__ import annotations

import pytest
from django.urls import reverse

from desk.pages import fitting
from tests.desk.pages.test_fitting import LOW_PAD
from tests.factories import make_inspection, make_instrument, make_ready_instrument, make_student
from tests.loans.makers import make_shared_use


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


def test_what_stays_in_the_room_because_it_is_shared_suits_nobody(client, director, school):
    use = make_shared_use(school=school)
    client.force_login(director)
    page = client.get(reverse("desk:suits", args=[make_student(school=school).pk]), {"kind": "tuba"}).text
    assert "Nothing can go out today." in page
    assert use.instrument.asset_number not in page


@pytest.mark.parametrize("who", ["staff", "group"])
def test_of_who_has_no_grade_none_is_asked_or_said(client, director, school, instrument, who):
    """Nor a level: what has limits is said of the instrument, and sound ones come first."""
    limited = make_instrument(school=school, kind_code="flute")
    make_inspection(instrument=limited, findings=[LOW_PAD])
    sound = make_ready_instrument(school=school, kind_code="flute")
    adult = make_student(school=school, name="Pat Player", who=who, grade="")
    client.force_login(director)
    suits = reverse("desk:suits", args=[adult.pk])
    assert suits in client.get(reverse("desk:lend"), {"student": adult.pk}).text
    pages = [client.get(suits, {"kind": kind}).text for kind in ("", "flute", "oboe")]
    assert f"Pat Player, {adult.get_who_display()}" in pages[0]
    assert pages[1].index(sound.asset_number) < pages[1].index(limited.asset_number)
    assert "Anyone who plays its whole range loses C4." in pages[1]
    assert "No oboe can go out today." in pages[2]
    for page in pages:
        assert not any(words in page.lower() for words in ("grade", "first year", "this student"))


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
