"""What the database refuses of disposals and transfers, and who sees them."""

from __future__ import annotations

import pytest

from inventory.models import Disposal, Transfer
from tests.database import refused
from tests.factories import NOW
from tests.inventory.leaving_makers import make_disposal, make_transfer

pytestmark = pytest.mark.django_db


def test_one_stands_for_an_instrument_and_an_end_has_who(director):
    gone = make_disposal()
    rows = Disposal.objects.filter(pk=gone.pk)
    refused(lambda: rows.update(ended_at=NOW))
    refused(lambda: rows.update(was_wrong=True))
    rows.update(ended_at=NOW, ended_by=director)
    assert not Disposal.objects.standing().exists()
    assert str(gone) == "Sold 2026-09-14"


def test_an_error_is_none_of_those_counted():
    make_disposal(way="error")
    sold = make_disposal()
    assert list(Disposal.objects.counted()) == [sold]


def test_an_offer_is_seen_where_it_comes_from_and_where_it_goes(director, stranger, administrator):
    offered = make_transfer(to_school=stranger.staff_roles.get().school)
    permission = "inventory.transfer_instrument"
    assert list(Transfer.objects.coming_to(stranger, permission)) == [offered]
    assert list(Transfer.objects.coming_to(administrator, permission)) == [offered]
    assert not Transfer.objects.coming_to(director, permission).exists()
    refused(lambda: Transfer.objects.update(settled_at=NOW))
