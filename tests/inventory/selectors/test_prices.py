from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.selectors.prices import replacement_amount
from tests.factories import make_instrument

pytestmark = pytest.mark.django_db


def test_a_new_one_costs_the_middle_of_its_level_unless_it_has_a_figure_of_its_own():
    assert replacement_amount(make_instrument(level="student")) == Decimal("650.00")  # trumpet, 400 to 900
    assert replacement_amount(make_instrument(level="intermediate")) == Decimal("1700.00")
    assert replacement_amount(make_instrument(replacement_amount=Decimal(777))) == 777
