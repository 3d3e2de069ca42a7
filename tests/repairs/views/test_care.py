"""The pages of care."""

from __future__ import annotations

from datetime import timedelta

import pypdfium2
import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Instrument, Role, StaffRole
from repairs.models import CareDone
from tests.factories import make_ready_instrument, make_school, make_user
from tests.repairs.care_makers import make_care
from tests.repairs.views.pages import queries_of


@pytest.fixture
def instruments(school) -> list[Instrument]:
    return [make_ready_instrument(school=school, at=timezone.now() - timedelta(days=1500)) for _ in range(3)]


def day_url(school, name: str = "care-day", kind: str = "trumpet") -> str:
    return reverse(f"repairs:{name}", args=[school.code, kind])


def test_the_list_names_the_set_and_leads_to_its_day(client, tech, school, instruments):
    client.force_login(tech)
    page = client.get(reverse("repairs:care"))
    assert "3 instruments of 3 have care due" in page.text
    assert day_url(school) in page.text


def test_the_list_answers_htmx_with_the_list_alone(client, tech, instruments):
    client.force_login(tech)
    page = client.get(reverse("repairs:care"), headers={"HX-Request": "true"})
    assert "<html" not in page.text
    assert "have care due" in page.text


def test_ticked_instruments_are_noted_and_no_longer_due(client, tech, school, instruments):
    client.force_login(tech)
    ticked = [instruments[0].pk, instruments[2].pk]
    data = {"code": "bath", "instruments": ticked, "done_on": timezone.localdate().isoformat()}
    answer = client.post(day_url(school, "care-done"), data, follow=True)
    assert "recorded for 2 instruments" in answer.text
    assert sorted(CareDone.objects.values_list("instrument", flat=True)) == ticked
    client.post(day_url(school, "care-done"), data)
    assert CareDone.objects.count() == 2


@pytest.mark.usefixtures("instruments")
@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"code": "bath", "done_on": "2026-01-01"}, "Choose the instruments"),
        ({"code": "bath", "done_on": "never"}, "Nothing was recorded. Enter a valid date."),
        ({"code": "bath\u202e<script>", "done_on": "2026-01-01", "instruments": "MINE"}, "does not need that"),
    ],
)
def test_what_is_refused_is_said_and_nothing_is_noted(client, tech, school, data, words):
    client.force_login(tech)
    sent = data | ({"instruments": [Instrument.objects.first().pk]} if data.get("instruments") else {})
    answer = client.post(day_url(school, "care-done"), sent)
    assert answer.status_code == 422
    assert words in answer.text
    assert "<script>" not in answer.text.partition("<main")[2]
    assert CareDone.objects.count() == 0


def test_all_that_the_page_listed_are_noted_at_one_tap_without_ticking(client, tech, school, instruments):
    client.force_login(tech)
    assert "Mark all 3 as done" in client.get(day_url(school)).text
    later = make_ready_instrument(school=school, at=timezone.now() - timedelta(days=1500))
    listed = [one.pk for one in instruments]
    data = {"code": "bath", "listed": listed, "all": "1", "done_on": timezone.localdate().isoformat()}
    answer = client.post(day_url(school, "care-done"), data, follow=True)
    assert "recorded for 3 instruments" in answer.text
    assert sorted(CareDone.objects.values_list("instrument", flat=True)) == listed
    assert later.pk not in listed


def test_what_was_ticked_and_the_day_stay_when_another_instrument_has_left_the_set(client, tech, school, instruments):
    client.force_login(tech)
    keys = [one.pk for one in instruments[:2]]
    Instrument.objects.filter(pk=keys[0]).update(whereabouts="not_found")
    data = {"code": "bath", "instruments": keys, "done_on": "2026-09-01"}
    answer = client.post(day_url(school, "care-done"), data)
    assert answer.status_code == 422
    assert "One of these instruments has left this set since the page was opened." in answer.text
    assert f'value="{keys[1]}" checked' in " ".join(answer.text.split())
    assert 'value="2026-09-01"' in answer.text
    assert CareDone.objects.count() == 0


def test_the_day_and_its_sheet_say_how_many_of_the_set_they_list(client, tech, school, instruments):
    for care in ("bath", "slide_grease", "piston_oil", "water_key_corks", "felts_and_corks"):
        if care in {one.code for one in instruments[0].care_next.all()}:
            make_care(instrument=instruments[0], code=care, done_on=timezone.localdate(), at=timezone.now())
    client.force_login(tech)
    due = {
        one.instrument.pk for task in client.get(day_url(school)).context["day"].due_tasks for one in task.instruments
    }
    words = f"Due on {len(due)} of 3 instruments"
    assert words in client.get(day_url(school)).text
    paper = pypdfium2.PdfDocument(client.get(day_url(school, "care-sheet")).content)
    assert words in " ".join(paper[0].get_textpage().get_text_range().split())


def test_an_instrument_of_another_school_cannot_be_noted_through_this_one(client, tech, school, instruments):
    other = make_ready_instrument(school=make_school())
    client.force_login(tech)
    data = {"code": "bath", "instruments": [other.pk], "done_on": timezone.localdate().isoformat()}
    assert client.post(day_url(school, "care-done"), data).status_code == 422
    assert CareDone.objects.count() == 0


def test_a_ticked_instrument_stays_ticked_when_the_day_is_refused(client, tech, school, instruments):
    client.force_login(tech)
    tomorrow = (timezone.localdate() + timedelta(days=2)).isoformat()
    answer = client.post(
        day_url(school, "care-done"), {"code": "bath", "instruments": [instruments[1].pk], "done_on": tomorrow}
    )
    assert f'value="{instruments[1].pk}" checked' in " ".join(answer.text.split())


def test_a_large_set_shows_its_first_and_all_when_asked(client, request, school, instruments, monkeypatch):
    monkeypatch.setattr("repairs.views.care.SHOWN", 2)
    for role in ("auditor", "tech"):
        client.force_login(request.getfixturevalue(role))
        first, whole = client.get(day_url(school)).text, client.get(day_url(school) + "?all=1").text
        assert [row.asset_number in first for row in instruments] == [True, True, False]
        assert all(row.asset_number in whole for row in instruments)
        assert 'href="?all=1#care-bath"' in first
        assert "Show all 3 instruments" in first
        assert "Show all" not in whole
    sent = {"code": "bath", "instruments": [instruments[2].pk], "done_on": "2999-01-01"}
    refused = client.post(day_url(school, "care-done"), sent)
    assert refused.status_code == 422
    assert f'value="{instruments[2].pk}" checked' in refused.text


def test_a_note_is_taken_back(client, tech, school, instruments):
    row = make_care(instrument=instruments[0], at=timezone.now())
    client.force_login(tech)
    assert "Undo" in client.get(day_url(school)).text
    client.post(reverse("repairs:withdraw-care", args=[row.pk]))
    assert CareDone.objects.standing().count() == 0


def test_an_auditor_sees_what_is_due_and_no_form(client, auditor, school, instruments):
    client.force_login(auditor)
    page = client.get(day_url(school))
    assert "Bathe it" in page.text
    assert "Mark as done" not in page.text


def test_a_kind_nobody_has_or_knows(client, tech, school, instruments):
    client.force_login(tech)
    assert client.get(day_url(school, kind="kazoo")).status_code == 404
    assert "nothing due" in client.get(day_url(school, kind="tuba")).text


def test_the_sheet_and_the_card_are_pdf(client, tech, school, instruments):
    card = client.get(reverse("repairs:care-card", args=["trumpet"]))
    assert card.content.startswith(b"%PDF")
    assert client.get(reverse("repairs:care-card", args=["kazoo"])).status_code == 404
    client.force_login(tech)
    assert client.get(day_url(school, "care-sheet")).content.startswith(b"%PDF")


def test_the_card_of_a_lost_kind_says_that_nothing_is_known_of_it(client, instruments):
    Instrument.objects.filter(pk=instruments[0].pk).update(kind_code="horn_alto", options={})
    card = client.get(reverse("repairs:care-card", args=["horn_alto"]))
    text = " ".join(pypdfium2.PdfDocument(card.content)[0].get_textpage().get_text_range().split())
    assert "Horn alto (no longer in the catalog)" in text
    assert "Ask the band director." in text


def test_the_list_takes_as_many_queries_for_nine_instruments_as_for_three(client, tech, school, instruments):
    client.force_login(tech)
    few = queries_of(client, reverse("repairs:care"))
    for _ in range(6):
        make_ready_instrument(school=school, at=timezone.now() - timedelta(days=1500))
    assert queries_of(client, reverse("repairs:care")) == few


def test_recording_is_not_offered_for_a_role_at_another_school(client, school, instruments):
    user = make_user(Role.TECH, school=make_school())
    StaffRole.objects.create(user=user, role=Role.AUDITOR, school=school)
    client.force_login(user)
    assert client.get(day_url(school)).context["may_record"] is False
