from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from inventory.services.care import record_play_test
from tests.factories import NOW, make_ready_instrument


@pytest.fixture
def horn(school):
    return make_ready_instrument(school=school)


def play(horn, tech, *, count: int) -> None:
    for number in range(count):
        record_play_test(
            instrument=horn,
            result="pass",
            measures=[{"written": "C4", "cents": -15.0 * number, "spread": 0, "tries": 1, "spoke": True}],
            actor=tech,
            at=NOW + timedelta(days=180 * number),
        )


def test_the_chart_stands_above_a_table_that_says_the_same(client, tech, horn):
    play(horn, tech, count=4)
    client.force_login(tech)
    page = client.get(reverse("inventory:trend", args=[horn.asset_number])).text
    assert "It drifts" in page
    assert page.count('role="img" aria-label="Pitch in 4 play tests') == 2  # the phone's and the desk's
    assert page.count("<tr>") == 5
    assert page.index("<svg") < page.index("<table")


def test_a_horn_that_nobody_tested_says_so(client, tech, horn):
    client.force_login(tech)
    assert "No play tests yet" in client.get(reverse("inventory:trend", args=[horn.asset_number])).text


def test_an_auditor_reads_the_chart_but_is_led_to_no_test(client, auditor, tech, horn):
    play(horn, tech, count=2)
    client.force_login(auditor)
    page = client.get(reverse("inventory:trend", args=[horn.asset_number])).text
    assert "play-tests/" not in page


def test_twenty_tests_cost_as_many_queries_as_one(client, tech, horn, django_assert_max_num_queries):
    play(horn, tech, count=20)
    client.force_login(tech)
    with django_assert_max_num_queries(8):
        client.get(reverse("inventory:trend", args=[horn.asset_number]))
