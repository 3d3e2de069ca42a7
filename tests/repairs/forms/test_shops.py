"""Forms of shops."""

from __future__ import annotations

import pytest

from repairs.forms.shops import ShopChangeForm
from tests.repairs.money_makers import make_shop

pytestmark = pytest.mark.django_db


def test_a_shop_is_shown_as_it_is():
    assert ShopChangeForm(shop=make_shop(contact="555"))["contact"].value() == "555"
