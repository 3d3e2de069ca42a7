"""What somebody may see of who has what narrows the register."""

from __future__ import annotations

import pytest
from django.db.models import Q

from inventory.models import Instrument
from inventory.selectors.holders import holders
from inventory.selectors.register import Wanted, ground_for
from tests.factories import TODAY, make_instrument


class Somebody:
    def __init__(self, instrument: Instrument) -> None:
        self.instrument = instrument

    def in_grade(self, _user: object, grade: str) -> Q:
        return Q(pk=self.instrument.pk) if grade == "7" else Q(pk__in=())


@pytest.mark.django_db
def test_a_grade_narrows_the_register_to_what_whoever_knows_says(school, director, monkeypatch):
    has, _other = make_instrument(school=school), make_instrument(school=school)
    monkeypatch.setattr(holders, "_function", lambda: Somebody(has))
    assert list(ground_for(director, Wanted(grade="7"), today=TODAY)) == [has]
    assert not ground_for(director, Wanted(grade="8"), today=TODAY).exists()
