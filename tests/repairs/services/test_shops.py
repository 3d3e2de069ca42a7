"""The list of shops."""

from __future__ import annotations

import pytest

from core.exceptions import RefusedError
from repairs.models import Shop
from repairs.services.shops import add_shop, change_shop
from tests.factories import NOW, make_user
from tests.repairs.money_makers import (
    make_shop,
)

pytestmark = pytest.mark.django_db


def test_a_shop_is_on_the_list_once_whatever_the_case():
    make_shop(name="Brook Street Brass")
    for name in ("brook street brass", " "):
        with pytest.raises(RefusedError):
            add_shop(name=name, actor=make_user(), at=NOW)
    assert Shop.objects.count() == 1


def test_a_shop_is_corrected_but_not_into_another():
    shop, other = make_shop(), make_shop()
    fields = {"contact": "555", "address": "", "note": "", "is_used": False, "actor": make_user(), "at": NOW}
    assert not change_shop(shop=shop, name="New name", **fields).is_used
    with pytest.raises(RefusedError, match="on the list"):
        change_shop(shop=shop, name=other.name, **fields)
