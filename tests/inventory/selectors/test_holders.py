"""Where nobody says who has what, nobody has anything."""

from __future__ import annotations

import pytest

from inventory.models import Instrument
from inventory.selectors import holders
from inventory.selectors.holders import Nobody
from inventory.selectors.register import Wanted, ground_for
from tests.factories import TODAY, make_instrument


@pytest.mark.django_db
def test_without_anybody_who_knows_nothing_is_out(school, director, monkeypatch):
    make_instrument(school=school)
    monkeypatch.setattr(holders, "_known", [Nobody()])
    asked = holders.holders()
    assert (asked.of(director, [1]), asked.grades(director, today=TODAY)) == ({}, [])
    assert not ground_for(director, Wanted(grade="7"), today=TODAY).exists()
    assert Instrument.objects.filter(~asked.in_grade(director, "7")).exists()
