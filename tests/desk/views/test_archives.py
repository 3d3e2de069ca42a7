"""The page of archives: asked for, made by the worker, taken."""

from __future__ import annotations

import io

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from core.archives import check_archive, make_key
from core.models import Event, LongWork
from core.services.long_work import STALLED_AFTER
from desk.tasks import make_archive
from inventory.models import Role
from tests.factories import make_instrument, make_user

pytestmark = [pytest.mark.django_db, pytest.mark.page]

URL = reverse("desk:archives")


@pytest.fixture(autouse=True)
def folder(tmp_path, settings):
    settings.ARCHIVES_DIR, settings.ARCHIVE_KEY_FILE = tmp_path / "archives", tmp_path / "archive.key"
    return tmp_path


def work():
    call_command("work", once=True, stdout=io.StringIO())


def test_an_archive_is_asked_for_made_and_taken(client, auditor, school, settings):
    key = make_key(settings.ARCHIVE_KEY_FILE)
    make_instrument(school=school)
    client.force_login(auditor)
    page = client.get(URL).text
    assert key in page
    assert "Make archive" in page
    asked = [client.post(URL).headers["Location"] for _ in range(2)]  # the second while the first waits
    row = LongWork.objects.get()
    assert asked == [f"/progress/{row.pk}/", URL]
    page = client.get(URL).text
    assert ("is already being made" in page, "<progress" in page) == (True, True)
    work()
    assert make_archive(row, timezone.now()).url == URL, "a worker that begins it once more makes no other"
    assert client.get(URL, headers={"hx-request": "true"}).headers["HX-Refresh"] == "true"
    assert "Done: Archives" in client.get("/progress/line/").text
    event = Event.objects.get(act="archive_made")
    assert event.actor == auditor
    assert event.after["sha256"] in client.get(URL).text
    answer = client.get(reverse("desk:archive", args=[event.number]))
    (settings.ARCHIVES_DIR / "taken.zip").write_bytes(b"".join(answer.streaming_content))
    assert check_archive(settings.ARCHIVES_DIR / "taken.zip", pinned=key).differences == ()
    export = Event.objects.newest_first()[0]
    assert (export.act, export.after["form"]) == ("exported", "zip")
    (settings.ARCHIVES_DIR / event.after["file"]).unlink()
    assert client.get(reverse("desk:archive", args=[event.number])).status_code == 404
    assert "not on this server" in client.get(URL).text


def test_without_a_key_the_page_says_how_to_make_one_and_the_worker_why_it_was_not_made(client, auditor, settings):
    client.force_login(auditor)
    assert "make_archive_key" in client.get(URL).text
    client.post(URL)
    work()
    make_key(settings.ARCHIVE_KEY_FILE)
    assert "The last archive was not made" in client.get(URL).text


def test_who_audits_one_school_gets_no_archive_of_the_district(client, school):
    client.force_login(make_user(Role.AUDITOR, school=school))
    assert "Your role is for one school" in client.get(URL).text
    for answer in (client.post(URL), client.get(reverse("desk:archive", args=[1]))):
        assert answer.headers["Location"] == URL
    assert not LongWork.objects.exists()


def test_one_whose_worker_was_killed_keeps_nobody_from_asking_for_another(client, auditor, settings):
    make_key(settings.ARCHIVE_KEY_FILE)
    client.force_login(auditor)
    client.post(URL)
    LongWork.objects.update(started_at=timezone.now(), reported_at=timezone.now() - STALLED_AFTER * 1.1)
    page = client.get(URL).text
    assert "The last archive was not made" in page
    assert "Make archive" in page
