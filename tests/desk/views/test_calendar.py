"""A school's days by a secret address: no names, nothing once it is revoked."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import urlsplit

import icalendar
import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from core.models import Event
from core.traces import log_differences
from inventory.models import CalendarLink, StaffRole
from inventory.services.calendars import READS_PER_HOUR, make_calendar_link
from loans.models import Loan
from repairs.models import Job
from repairs.services.orders import bring_back, change_promise
from tests.factories import NOW, make_student
from tests.loans.makers import make_loan
from tests.repairs.makers import make_job
from tests.repairs.money_makers import make_sent_order, make_stuck_instrument

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(director) -> Client:
    client = Client()
    client.force_login(director)
    return client


def make_address(client: Client, school) -> str:
    page = client.post(reverse("desk:calendars"), {"school": school.pk}, follow=True)
    (line,) = [one for one in page.text.splitlines() if ".ics" in one]
    address = line[line.index("http") : line.index(".ics") + 4]
    assert ".ics" not in client.get(reverse("desk:calendars")).text  # shown once
    return urlsplit(address).path


def events_at(path: str) -> list[icalendar.Event]:
    answer = Client().get(path)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert "Reed" not in answer.text
    return icalendar.Calendar.from_ical(answer.content).events


def test_what_is_due_on_one_day_is_one_entry_and_a_job_is_another(client, school, director, tech):
    due_on = timezone.localdate() + timedelta(days=30)
    loans = [
        make_loan(school=school, student=make_student(school=school, name="Robin Reed"), actor=director)
        for _ in range(2)
    ]
    Loan.objects.update(due_on=due_on)
    job = make_job(school=school, actor=tech)
    Job.objects.update(due_on=due_on + timedelta(days=1))
    path = make_address(client, school)
    due, bench = events_at(path)
    assert (str(due["SUMMARY"]), due["DTSTART"].dt) == ("2 instruments due back", due_on)
    assert str(due["DESCRIPTION"]) == ", ".join(sorted(loan.instrument.asset_number for loan in loans))
    assert str(bench["SUMMARY"]) == f"Bench: {job.instrument.asset_number} promised"
    Loan.objects.filter(pk=loans[0].pk).update(due_on=due_on + timedelta(days=7))
    assert next(str(one["UID"]) for one in events_at(path)) == str(due["UID"])


def test_what_a_shop_promised_is_an_entry_while_it_is_out(client, school):
    """A later promise moves the entry that a program has, and nothing names the shop or a person."""
    order = make_sent_order(instrument=make_stuck_instrument(school=school))
    path = make_address(client, school)
    (event,) = events_at(path)
    assert str(event["SUMMARY"]) == f"Shop: {order.instrument.asset_number} promised"
    assert event["DTSTART"].dt == order.promised_on
    later = order.promised_on + timedelta(days=7)
    change_promise(order=order, promised_on=later, actor=order.asked_by, at=NOW + timedelta(days=1))
    (moved,) = events_at(path)
    assert (str(moved["UID"]), moved["DTSTART"].dt) == (str(event["UID"]), later)
    assert moved["SEQUENCE"] > event["SEQUENCE"]
    bring_back(order=order, what_was_done="Done", actor=order.asked_by, at=NOW + timedelta(days=2))
    assert events_at(path) == []


def test_a_program_that_has_it_already_gets_nothing_anew(client, school, director):
    path = make_address(client, school)
    first = Client().get(path)
    again = Client().get(path, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    make_loan(school=school, actor=director)
    assert Client().get(path, headers={"If-None-Match": first["ETag"]}).status_code == 200


def test_it_opens_nothing_once_revoked_replaced_or_without_a_role(client, school, director):
    first = make_address(client, school)
    second = make_address(client, school)
    assert [Client().get(path).status_code for path in (first, second)] == [404, 200]
    client.post(reverse("desk:revoke-calendar", args=[CalendarLink.objects.live().get().pk]))
    assert Client().get(second).status_code == 404
    third = make_address(client, school)
    StaffRole.objects.all().delete()
    assert Client().get(third).status_code == 404
    assert [line for line in log_differences() if "calendar" in line] == []
    assert Event.objects.filter(act="calendar_link_revoked").count() == 2


def test_it_is_not_read_all_the_time(client, school):
    path = make_address(client, school)
    assert {Client().get(path).status_code for _ in range(READS_PER_HOUR)} == {200}
    answer = Client().get(path)
    assert (answer.status_code, answer["Retry-After"]) == (429, "3600")


def test_the_token_is_not_in_the_database(school, director):
    token = make_calendar_link(school=school, actor=director, at=timezone.now())
    assert token not in str([*CalendarLink.objects.values(), *Event.objects.values()])
