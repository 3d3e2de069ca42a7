"""A list that is too long for its request is made by the worker, who asks as the same person. Common practice, no source."""

from __future__ import annotations

import io

import pytest
from django.core.files.storage import default_storage
from django.core.management import call_command

from core.models import Event, LongWork
from core.views import base
from inventory.services.people import remove_role
from tests.factories import NOW, make_instrument

pytestmark = [pytest.mark.django_db, pytest.mark.page]
FILE = "/instruments/export.xlsx"


def work() -> LongWork:
    call_command("work", once=True, stdout=io.StringIO())
    return LongWork.objects.latest("queued_at")


@pytest.fixture
def desk(client, director, school, monkeypatch):
    monkeypatch.setitem(base.MOST_AT_ONCE, "xlsx", 1)
    for number in ("ELM-1", "ELM-2"):
        make_instrument(school=school, asset_number=number)
    make_instrument(asset_number="THEIRS")
    client.force_login(director)
    return client


def test_a_long_list_is_made_once_by_the_worker_from_the_same_rows(desk, director):
    from openpyxl import load_workbook

    answers = [desk.get(FILE) for _ in range(2)]
    assert {answer.headers["Location"] for answer in answers} == {f"/progress/{LongWork.objects.get().pk}/"}
    row = work()
    assert (row.is_failed, row.file_name.partition("-")[0], row.file_name.rpartition(".")[2]) == (
        False,
        "instruments",
        "xlsx",
    )
    with default_storage.open(row.file) as file:
        sheet = load_workbook(io.BytesIO(file.read())).active
    cells = {str(cell) for line in sheet.iter_rows(values_only=True) for cell in line}
    assert {"ELM-1", "ELM-2"} <= cells
    assert "THEIRS" not in cells
    event = Event.objects.newest_first()[0]
    assert (event.act, event.actor, event.after["rows"]) == ("exported", director, 2)
    default_storage.delete(row.file)


def test_a_short_one_and_one_that_is_searched_by_words_come_at_once(desk, monkeypatch):
    for words in ("q=ELM", "funding=Gift+of+Greta"):  # they may name somebody, and nothing typed is left for the worker
        monkeypatch.setitem(base.MOST_AT_ONCE, "xlsx", -1)
        assert b"".join(desk.get(f"{FILE}?{words}").streaming_content)
    monkeypatch.setitem(base.MOST_AT_ONCE, "xlsx", 2)
    assert b"".join(desk.get(FILE).streaming_content)
    assert not LongWork.objects.exists()


def test_who_lost_the_role_meanwhile_gets_nothing(desk, director):
    desk.get(FILE)
    remove_role(held=director.staff_roles.get(), actor=None, at=NOW)
    row = work()
    assert (row.is_failed, row.file) == (True, "")
    assert not Event.objects.filter(act="exported").exists()
