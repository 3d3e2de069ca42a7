"""Who may approve that an instrument leaves; the limits are the district's figures."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.selectors.leaving import (
    approvers_of,
    asks_password,
    disposal_of,
    large_above,
    password_above,
    serial_taken,
)
from tests.factories import make_instrument
from tests.inventory.leaving_makers import make_disposal

pytestmark = pytest.mark.django_db


def test_up_to_the_limit_a_director_and_above_it_the_district(school, director, administrator, stranger):
    assert (password_above(), large_above()) == (100, 1000)
    few = approvers_of(school.pk, amount=large_above(), but_for=stranger)
    assert set(few) == {director, administrator}
    assert set(approvers_of(school.pk, amount=Decimal("1000.01"), but_for=stranger)) == {administrator}
    assert set(approvers_of(school.pk, amount=Decimal(1), but_for=director)) == {administrator}


def test_nobody_types_the_password_for_their_own(director, administrator):
    assert asks_password(Decimal("100.01"), approver=administrator, asker=director)
    assert not asks_password(Decimal(100), approver=administrator, asker=director)
    assert not asks_password(Decimal(900), approver=director, asker=director)


def test_how_it_left_is_known_while_it_is_gone(school):
    horn = make_instrument(school=school)
    assert disposal_of(horn) is None
    assert disposal_of(make_disposal(horn).instrument).way == "sold"


def test_a_serial_is_taken_by_another_of_the_same_maker(school):
    horn = make_instrument(school=school, maker="Plain", serial="5")
    assert not serial_taken(horn)
    horn.pk = None
    horn.maker = "PLAIN"
    assert serial_taken(horn)
