"""Forty are clean in one act."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from core.models import Event
from inventory.models import Instrument
from inventory.services.care import require_hygiene
from tests.factories import NOW, make_ready_instrument

PAGE = reverse("inventory:to-clean")


@pytest.fixture
def waiting(client, director, school):
    client.force_login(director)
    rows = [make_ready_instrument(school=school, kind_code=kind) for kind in ("flute", "trumpet", "trumpet")]
    for row in rows:
        require_hygiene(instrument=row, actor=director, at=NOW)
    return rows


def test_all_are_checked_and_become_clean_in_one_act_and_once(client, waiting):
    page = client.get(PAGE).text
    checked = re.findall(r'name="instruments" value="(\d+)"\s+checked', page)
    assert checked == [str(row.pk) for row in waiting]
    assert len(re.findall(r'name="instruments"', client.get(PAGE, {"kind": "flute"}).text)) == 1
    typed = {
        "instruments": checked[:2], "product": "alcohol", "wet_minutes": "0",
        "nonce": page.split('name="nonce" value="')[1].split('"')[0],
    }  # fmt: skip
    refused = client.post(PAGE, typed)
    assert refused.status_code == 422
    assert "It has to stay wet for at least 1 minute." in refused.text
    assert re.findall(r'name="instruments" value="(\d+)"\s+checked', refused.text) == checked[:2]
    for _ in range(2):
        done = client.post(PAGE, typed | {"wet_minutes": "1"}, follow=True).text
    assert "2 instruments are clean." in done
    assert Event.objects.filter(act="cleaned").count() == 2
    assert [row.is_hygiene_due for row in Instrument.objects.filter(pk__in=checked).order_by("pk")] == [
        False,
        False,
        True,
    ]


def test_what_is_clean_already_or_anothers_is_not_taken(client, waiting):
    foreign = make_ready_instrument()
    typed = {"product": "soap", "wet_minutes": "0"}
    assert client.post(PAGE, typed | {"instruments": [foreign.pk]}).status_code == 422
    assert client.post(PAGE, typed).status_code == 422
    assert not Event.objects.filter(act="cleaned").exists()
