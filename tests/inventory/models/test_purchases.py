"""What a purchase request adds up to, and what the database refuses of one."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from inventory.models import PurchaseRequest
from tests.factories import make_director
from tests.inventory.purchase_makers import make_purchase_request, wanted

pytestmark = pytest.mark.django_db


def test_it_adds_up_to_the_cent():
    """2 × 2,100.50 + 3 × 19.99 = 4,260.97, by hand."""
    request = make_purchase_request(lines=[wanted(), wanted(kind="triangle", count=3, each=Decimal("19.99"))])
    assert (request.count, request.total_amount) == (5, Decimal("4260.97"))
    assert str(request) == f"purchase request {request.pk}"


@pytest.mark.parametrize("columns", [{"lines": []}, {"seated": 11}])
def test_one_for_nothing_or_for_more_seats_than_there_are_is_not_stored(columns):
    request = make_purchase_request()
    with pytest.raises(IntegrityError), transaction.atomic():
        PurchaseRequest.objects.filter(pk=request.pk).update(**columns)


def test_it_is_seen_at_its_school_alone():
    request = make_purchase_request()
    there, elsewhere = make_director(request.school), make_director()
    assert list(PurchaseRequest.objects.visible_to(there).for_table()) == [request]
    assert not PurchaseRequest.objects.visible_to(elsewhere).exists()
