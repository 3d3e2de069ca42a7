from __future__ import annotations

import logging

import pytest
from django.urls import reverse

from core.request_id import OneLineFilter, RequestIdFilter, request_id_var
from tests.factories import make_user


def line(filters: list[logging.Filter]) -> str:
    record = logging.LogRecord("hornbook", logging.WARNING, __file__, 1, "words", None, None)
    for one in filters:
        assert one.filter(record)
    return logging.Formatter("[{request_id}] {message}", style="{").format(record)


def test_a_log_line_carries_the_id_of_its_request():
    token = request_id_var.set("abc-123")
    try:
        assert line([RequestIdFilter()]) == "[abc-123] words"
    finally:
        request_id_var.reset(token)
    assert line([RequestIdFilter()]) == "[-] words"


@pytest.mark.django_db
def test_an_error_page_shows_the_id_that_the_answer_and_the_log_carry(client, caplog):
    client.force_login(make_user())
    caplog.handler.addFilter(RequestIdFilter())
    answer = client.get(reverse("inventory:list"))
    assert answer.status_code == 403
    assert answer.headers["X-Request-Id"] in answer.content.decode()
    assert {record.request_id for record in caplog.records} == {answer.headers["X-Request-Id"]}


@pytest.mark.django_db
@pytest.mark.parametrize("page", ["/instruments/", "/apple-touch-icon.png"])
def test_a_refused_request_is_one_line_of_the_log(client, caplog, page):
    client.force_login(make_user())
    assert client.get(page).status_code in {403, 404}
    (record,) = caplog.records
    assert OneLineFilter().filter(record)
    assert logging.Formatter("{message}", style="{").format(record).splitlines() == [record.getMessage()]


def test_a_fault_of_ours_keeps_its_traceback():
    try:
        raise RuntimeError("broken")
    except RuntimeError as error:
        seen = (RuntimeError, error, error.__traceback__)
    record = logging.LogRecord("django.request", logging.ERROR, __file__, 1, "words", None, seen)
    record.status_code = 500
    assert OneLineFilter().filter(record)
    assert "Traceback" in logging.Formatter("{message}", style="{").format(record)


def test_the_line_that_django_writes_last_names_the_request_too(rf):
    request = rf.get("/log-in/")
    request.request_id = "abc-124"
    record = logging.LogRecord("django.request", logging.WARNING, __file__, 1, "Too Many Requests", None, None)
    record.request = request
    assert RequestIdFilter().filter(record)
    assert record.request_id == "abc-124"


@pytest.mark.django_db
def test_a_request_keeps_the_id_that_its_answer_tells(client):
    answer = client.get(reverse("core:log-in"))
    assert answer.wsgi_request.request_id == answer.headers["X-Request-Id"]
