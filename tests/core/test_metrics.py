import re

import pytest
from django.test import Client
from django.urls import reverse
from prometheus_client import REGISTRY

from tests.factories import make_ready_instrument, make_student


def counted(name, **labels):
    return REGISTRY.get_sample_value(name, labels) or 0.0


@pytest.mark.django_db
def test_an_answer_is_counted_by_page_method_and_status_and_timed(client):
    labels = {"view": "core:log-in", "method": "GET", "status": "200"}
    before, timed = (
        counted("hornbook_requests_total", **labels),
        counted("hornbook_request_seconds_count", view="core:log-in"),
    )
    client.get(reverse("core:log-in"))
    assert counted("hornbook_requests_total", **labels) == before + 1
    assert counted("hornbook_request_seconds_count", view="core:log-in") == timed + 1


@pytest.mark.django_db
def test_a_wrong_password_is_counted(client, director):
    before = counted("hornbook_failed_log_ins_total")
    client.post(reverse("core:log-in"), {"username": "director", "password": "wrong"})
    assert counted("hornbook_failed_log_ins_total") == before + 1


@pytest.mark.django_db
def test_a_log_in_that_was_not_looked_at_is_counted_as_such(client, director, settings):
    settings.LOG_IN_TRIES = 2
    failed, paused = counted("hornbook_failed_log_ins_total"), counted("hornbook_paused_log_ins_total")
    for _ in range(5):
        client.post(reverse("core:log-in"), {"username": "director", "password": "wrong"})
    assert counted("hornbook_failed_log_ins_total") == failed + 2
    assert counted("hornbook_paused_log_ins_total") == paused + 3


@pytest.mark.django_db
def test_an_error_of_ours_is_counted_as_one(director, monkeypatch):
    def broken(*_args, **_kwargs):
        raise ZeroDivisionError

    monkeypatch.setattr("desk.views.today.TodayView.get", broken, raising=False)
    client = Client(raise_request_exception=False)
    client.force_login(director)
    labels = {"view": "desk:today", "method": "GET", "status": "500"}
    before = counted("hornbook_requests_total", **labels)
    assert client.get(reverse("desk:today")).status_code == 500
    assert counted("hornbook_requests_total", **labels) == before + 1


@pytest.mark.django_db
def test_what_a_client_invents_makes_no_label_and_no_name_reaches_one(client, director):
    instrument = make_ready_instrument(school=director.staff_roles.get().school)
    student = make_student(school=instrument.school, name="Wilhelmina Quarrelsome")
    client.force_login(director)
    for number in range(30):
        client.get(f"/nowhere/{number}/")
        client.generic(f"BREW{number}", reverse("core:log-in"))
    client.get(reverse("desk:instrument", args=[instrument.asset_number]))
    client.get(reverse("loans:student", args=[student.pk]))
    labels = {
        (name, value)
        for metric in REGISTRY.collect()
        if metric.name.startswith("hornbook_")
        for sample in metric.samples
        for name, value in sample.labels.items()
    }
    assert [value for _, value in labels if re.search(r"nowhere|BREW|Quarrel|director|127\.", value)] == []
    assert instrument.asset_number not in {value for _, value in labels}
    assert ("view", "none") in labels
    assert ("method", "other") in labels
    assert ("view", "loans:student") in labels
