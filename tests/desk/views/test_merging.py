"""Merging on the page: both are shown first, number and tag lead to the one that is kept, both histories stay."""

from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.models import Instrument, Tag
from tests.factories import make_instrument

pytestmark = pytest.mark.django_db


def page(name, instrument):
    return reverse(f"desk:{name}", args=[instrument.asset_number])


def test_two_records_become_one_and_are_taken_apart_again(client, school, director):
    kept = make_instrument(school=school, asset_number="A1")
    away = make_instrument(school=school, asset_number="A2", serial="777001")
    client.force_login(director)
    assert client.get(page("merge", kept), {"other": "zz"}).status_code == 422
    shown = client.get(page("merge", kept), {"other": "a2"})
    assert "777001" in shown.text
    assert Instrument.objects.filter(merged_into=None).count() == 2
    client.post(page("merge", kept), {"other": "A2"})
    assert client.get(page("instrument", away)).headers["Location"] == page("instrument", kept)
    tag = Tag.objects.live().get(instrument=away)
    assert client.get(reverse("desk:tag", args=[tag.token])).headers["Location"] == page("instrument", kept)
    assert client.get(reverse("desk:find"), {"text": "a2"}).headers["Location"] == page("instrument", kept)
    history = client.get(page("history", kept)).text
    assert history.count("Registered") >= 2
    assert "Another record was merged into this one" in history
    client.post(page("unmerge", away))
    assert client.get(page("instrument", away)).status_code == 200
