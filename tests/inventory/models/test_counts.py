"""What the database refuses of counts."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from inventory.models import Count, Sighting
from inventory.services.counts import end_counting
from tests.inventory.count_makers import LATER, see

pytestmark = pytest.mark.django_db


def test_the_database_refuses_one_person_signing_twice(count, fleet, director, tech):
    see(count, fleet[0], tech)
    done = end_counting(count=count, actor=director, at=LATER)
    with pytest.raises(IntegrityError), transaction.atomic():
        Count.objects.filter(pk=done.pk).update(signed_at=LATER, signed_by=director, second=director)


def test_the_database_refuses_a_second_sighting_and_a_second_open_count(count, fleet, tech):
    first = see(count, fleet[0], tech).sighting
    first.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        first.save(force_insert=True)
    assert Sighting.objects.count() == 1
    count.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        count.save(force_insert=True)
