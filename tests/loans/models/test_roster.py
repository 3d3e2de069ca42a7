"""Which courses a school has chosen, and who sees it."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from loans.models import RosterChoice

pytestmark = pytest.mark.django_db


def test_chosen_once_at_each_school_and_seen_by_its_director(school, director, stranger):
    row = RosterChoice.objects.create(school=school, sourced_id="band", title="Band")
    RosterChoice.objects.create(school=school, sourced_id="choir", is_taken=False)
    assert list(RosterChoice.objects.taken()) == [row]
    assert list(RosterChoice.objects.visible_to(director).taken()) == [row]
    assert not RosterChoice.objects.visible_to(stranger).exists()
    with pytest.raises(IntegrityError), transaction.atomic():
        RosterChoice.objects.create(school=school, sourced_id="band")
