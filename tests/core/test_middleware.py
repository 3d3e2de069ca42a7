import pytest
from django.urls import reverse

from core.models import Event
from inventory.services.care import report_problem
from tests.factories import NOW, make_ready_instrument


@pytest.mark.django_db
def test_every_answer_names_its_request(client):
    first, second = (client.get(reverse("core:health")).headers["X-Request-Id"] for _ in range(2))
    assert first != second


@pytest.mark.django_db
def test_all_events_of_one_request_carry_its_id(client):
    instrument = make_ready_instrument()
    token = instrument.tags.get().token
    answer = client.post(reverse("desk:report", args=[token]), {"text": "The second valve sticks."})
    events = Event.objects.filter(request_id=answer.headers["X-Request-Id"])
    assert {event.act for event in events} == {"problem_reported", "judged"}


@pytest.mark.django_db
def test_acts_outside_a_request_carry_none():
    report_problem(instrument=make_ready_instrument(), text="It rattles.", at=NOW)
    assert Event.objects.get(act="problem_reported").request_id == ""


@pytest.mark.django_db
def test_a_staff_page_is_never_kept_by_the_browser(client, director):
    client.force_login(director)
    assert "no-store" in client.get(reverse("desk:scan")).headers["Cache-Control"]
