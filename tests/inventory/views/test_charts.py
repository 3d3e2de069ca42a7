from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.models import ChartConfirmation
from inventory.selectors.charts import chart_digest
from tests.factories import make_ready_instrument

MARK = "Not confirmed"


def url(name: str, *args: str) -> str:
    return reverse(f"inventory:{name}", args=args)


def test_reading_and_confirming_takes_the_mark_from_the_instrument(client, director, school):
    flute = make_ready_instrument(school=school, kind_code="flute")
    page = reverse("desk:instrument", args=[flute.asset_number])
    client.force_login(director)
    assert MARK in client.get(page).text
    assert 'name="digest"' in client.get(url("chart", "flute")).text
    answer = client.post(url("confirm-chart", "flute"), {"digest": chart_digest("flute")}, follow=True)
    assert "Confirmed by Dana Director" in answer.text
    assert MARK not in client.get(page).text
    client.post(url("withdraw-chart", "flute"))
    assert MARK in client.get(page).text


def test_a_tech_reads_the_charts_but_does_not_confirm(client, tech):
    client.force_login(tech)
    assert "Flute and piccolo" in client.get(url("charts")).text
    assert 'name="digest"' not in client.get(url("chart", "flute")).text
    assert client.post(url("confirm-chart", "flute"), {"digest": chart_digest("flute")}).status_code == 403
    assert not ChartConfirmation.objects.exists()


def test_a_page_that_went_stale_is_refused_in_words(client, director):
    client.force_login(director)
    answer = client.post(url("confirm-chart", "flute"), {"digest": "old"})
    assert answer.status_code == 422
    assert "has changed since you opened it" in answer.text


@pytest.mark.parametrize("code", ["kazoo", "confirm", "0"])
def test_an_unknown_chart_is_not_found(client, director, code):
    client.force_login(director)
    assert client.get(url("chart", code)).status_code == 404


def test_confirming_an_unknown_chart_is_not_found(client, director):
    client.force_login(director)
    assert client.post(url("confirm-chart", "kazoo")).status_code == 404
