"""Which instruments are kept for parts."""

from __future__ import annotations

import pytest

from repairs.selectors.donors import parts_instruments_for_list
from repairs.services.donors import take_part
from tests.factories import NOW, make_director, make_ready_instrument, new_nonce
from tests.repairs.money_makers import make_parts_instrument

pytestmark = pytest.mark.django_db


def test_the_list_shows_the_own_school_s_instruments_with_what_they_gave(school, django_assert_max_num_queries):
    parts_instrument = make_parts_instrument(school=school)
    make_parts_instrument()
    onto = make_ready_instrument()
    take_part(
        parts_instrument=parts_instrument,
        part="bell",
        onto=onto,
        batch=new_nonce(),
        actor=parts_instrument.marked_by,
        at=NOW,
    )
    director = make_director(school)
    with django_assert_max_num_queries(3):
        found = parts_instruments_for_list(director)
    assert [(one.pk, one.given) for one in found] == [(parts_instrument.pk, 1)]
