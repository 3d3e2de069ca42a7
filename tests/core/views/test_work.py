"""The page of long work, the line in the head of every page, and the file that came of it. Common practice, no source."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.core.files.storage import default_storage
from django.test import Client
from django.utils import timezone

from core.long_work import queue_work
from core.models import LongWork
from core.services.long_work import STALLED_AFTER, UNCLAIMED_AFTER, Outcome, finish_work
from inventory.services.people import remove_role
from tests.factories import NOW, PASSWORD

pytestmark = [pytest.mark.django_db, pytest.mark.page]
ALL, LINE = "/progress/", "/progress/line/"
HTMX = {"hx-request": "true"}


@pytest.fixture
def begin(director, school):
    def begin(**given):
        arguments = {"list": LongWork.objects.count()}
        given = {"title": "<b>Papers</b>", "at": timezone.now(), "schools": [school.pk]} | given
        return queue_work(
            function="tests.core.test_long_work.does", person=director, permission="loans.lend_instrument",
            arguments=arguments, **given,
        )  # fmt: skip

    return begin


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def test_it_is_shown_how_far_it_is_and_then_what_came_of_it(desk, begin, director):
    row = begin()
    page = desk.get(f"/progress/{row.pk}/").text
    assert "&lt;b&gt;Papers" in page
    assert "Waiting to start" in page
    assert 'hx-trigger="every 2s"' in page
    LongWork.objects.update(started_at=NOW, reported_at=timezone.now(), done=12, total=30, phase="Laying out pages")
    piece = desk.get(f"/progress/{row.pk}/", headers=HTMX).text
    assert ("<html" in piece, 'value="12" max="30"' in piece, "Laying out pages" in piece) == (False, True, True)
    finish_work(row, at=timezone.now(), outcome=Outcome(message="All read.", url="/scan/"))
    assert desk.get(f"/progress/{row.pk}/", headers=HTMX).headers["HX-Redirect"] == "/scan/"
    done = desk.get(ALL).text
    assert "All read." in done
    assert "every 2s" not in done


def test_nothing_begun_says_so_and_another_persons_is_not_there(desk, begin, stranger):
    assert "Nothing is in progress" in desk.get(ALL).text
    row = begin()
    other = Client()
    other.force_login(stranger)
    assert "Papers" not in other.get(ALL).text + other.get(LINE).text
    for address in (f"/progress/{row.pk}/", f"/progress/{row.pk}/file/"):
        assert other.get(address).status_code == 404
    assert other.post(f"/progress/{row.pk}/again/").status_code == 404


def test_a_worker_that_does_not_run_or_was_killed_is_said_in_words_and_it_is_begun_again(desk, begin):
    row = begin(at=timezone.now() - UNCLAIMED_AFTER - timedelta(seconds=5))
    assert "manage.py work" in desk.get(ALL).text
    LongWork.objects.update(started_at=NOW, reported_at=timezone.now() - STALLED_AFTER - timedelta(seconds=5))
    assert "start it again" in desk.get(ALL).text
    answers = [desk.post(f"/progress/{row.pk}/again/") for _ in range(2)]
    assert len({answer.headers["Location"] for answer in answers}) == 1
    assert LongWork.objects.open().count() == 1


def test_the_line_says_once_on_whatever_page_that_it_is_done_and_then_asks_no_more(begin):
    assert "work-line" not in logged_in().get("/scan/").text
    row = begin()
    desk = logged_in()  # after a log-in elsewhere too
    assert 'hx-get="/progress/line/"' in desk.get("/scan/").text
    assert "every" not in desk.get(ALL).text.partition("work-line")[2], "its own page asks by itself"
    assert 'hx-trigger="load delay:3s"' in desk.get(LINE).text
    finish_work(row, at=timezone.now(), outcome=Outcome(url="/scan/"))
    said = desk.get(LINE).text
    assert "Done: &lt;b&gt;Papers" in said
    assert "data-announce" in said
    assert "hx-get" not in said
    assert "Done" not in desk.get(LINE).text
    assert "work-line" not in desk.get("/scan/").text


def logged_in() -> Client:
    client = Client()
    client.post("/log-in/", {"username": "director", "password": PASSWORD})
    return client


def test_a_file_is_taken_by_its_person_while_their_role_reaches_it(desk, begin, director):
    row = begin()
    finish_work(row, at=timezone.now(), outcome=Outcome(file=io.BytesIO(b"made"), file_name="papers.pdf"))
    address = f"/progress/{row.pk}/file/"
    assert address in desk.get(ALL).text
    answer = desk.get(address)
    assert b"".join(answer.streaming_content) == b"made"
    assert 'filename="papers.pdf"' in answer.headers["Content-Disposition"]
    remove_role(held=director.staff_roles.get(), actor=None, at=NOW)
    desk.force_login(type(director).objects.get(pk=director.pk))
    assert desk.get(address).status_code == 404
    assert address not in desk.get(ALL).text
    default_storage.delete(LongWork.objects.get().file)
