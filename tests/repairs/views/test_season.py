"""The bench review, and what was learned."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.repairs.makers import do_next, make_job


@pytest.mark.parametrize("query", ["", "?span=90", "?span=1095", "?span=%3Cb%3E", "?span=" + "9" * 500])
def test_the_season_answers_whatever_span_is_asked_for(client, tech, school, query):
    make_job(school=school)
    client.force_login(tech)
    page = client.get(reverse("repairs:season") + query)
    assert page.status_code == 200
    assert "What did I promise and not start?" in page.text


def test_learning_says_record_guess_weight_and_condition(client, tech, school):
    do_next(make_job(school=school, actor=tech), "freed", minutes=Decimal(4))
    client.force_login(tech)
    text = client.get(reverse("repairs:learning")).text
    assert "Freed 1 of 1 here; starting guess" in text
    assert "counts as much as 4 tries" in text
    assert "after the gentler ways failed" in text


def test_before_the_first_job_both_pages_say_so(client, tech):
    client.force_login(tech)
    assert "No tries yet. Plans use" in client.get(reverse("repairs:learning")).text
    assert "Nothing has been repaired" in client.get(reverse("repairs:season")).text
