from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.models import ChartConfirmation
from inventory.selectors.charts import chart_digest
from tests.factories import make_ready_instrument

MARK = "Not confirmed"


def url(name: str, *args: str) -> str:
    return reverse(f"inventory:{name}", args=args)


def test_reading_and_confirming_takes_the_mark_from_the_instrument(client, administrator, school):
    flute = make_ready_instrument(school=school, kind_code="flute")
    page = reverse("desk:instrument", args=[flute.asset_number])
    client.force_login(administrator)
    assert MARK in client.get(page).text
    assert 'name="digest"' in client.get(url("chart", "flute")).text
    answer = client.post(url("confirm-chart", "flute"), {"digest": chart_digest("flute")}, follow=True)
    assert "Confirmed by Adi Administrator" in answer.text
    assert MARK not in client.get(page).text
    client.post(url("withdraw-chart", "flute"))
    assert MARK in client.get(page).text


@pytest.mark.parametrize("role", ["director", "tech"])
def test_others_read_the_charts_but_do_not_confirm(request, client, role):
    client.force_login(request.getfixturevalue(role))
    assert "Flute and piccolo" in client.get(url("charts")).text
    page = client.get(url("chart", "flute")).text
    assert 'name="digest"' not in page
    assert "An administrator confirms it" in page
    assert client.post(url("confirm-chart", "flute"), {"digest": chart_digest("flute")}).status_code == 403
    assert not ChartConfirmation.objects.exists()


def test_a_page_that_went_stale_is_refused_in_words(client, administrator):
    client.force_login(administrator)
    answer = client.post(url("confirm-chart", "flute"), {"digest": "old"})
    assert answer.status_code == 422
    assert "has changed since you opened it" in answer.text


@pytest.mark.parametrize("code", ["kazoo", "confirm", "0"])
def test_an_unknown_chart_is_not_found(client, administrator, code):
    client.force_login(administrator)
    assert client.get(url("chart", code)).status_code == 404


def test_confirming_an_unknown_chart_is_not_found(client, administrator):
    client.force_login(administrator)
    assert client.post(url("confirm-chart", "kazoo")).status_code == 404
