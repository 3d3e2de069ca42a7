"""A token is live until its last day is over."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.models import Integration
from tests.factories import TODAY
from tests.inventory.makers import make_integration_row

pytestmark = pytest.mark.django_db


def test_it_says_in_words_what_it_opens():
    assert make_integration_row(scopes=["value", "work"]).opens == ["Repair jobs", "Costs and values"]


@pytest.mark.parametrize(("days", "is_live"), [(0, True), (9, True), (10, False)])
def test_it_is_live_on_its_last_day_and_not_on_the_next(days, is_live):
    row = make_integration_row(expires_on=TODAY + timedelta(days=9))
    assert (row in Integration.objects.live(today=TODAY + timedelta(days=days))) is is_live
