"""When a hold is in force."""

from __future__ import annotations

from datetime import timedelta

import pytest

from loans.models import LegalHold
from loans.services import lift_hold
from tests.factories import NOW, TODAY
from tests.loans.makers import make_hold

pytestmark = pytest.mark.django_db


def test_it_holds_through_its_last_day_or_until_it_is_lifted():
    hold = make_hold(ends_on=TODAY + timedelta(days=2))
    for day, holds in ((0, True), (2, True), (3, False)):
        assert LegalHold.objects.in_force(today=TODAY + timedelta(days=day)).exists() == holds
    lift_hold(hold=hold, actor=hold.actor, at=NOW)
    assert not LegalHold.objects.in_force(today=TODAY).exists()
