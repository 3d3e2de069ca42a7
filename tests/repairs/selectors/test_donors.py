"""Which instruments are kept for parts."""

from __future__ import annotations

import pytest

from repairs.selectors.donors import parts_horns_for_list
from repairs.services.donors import take_part
from tests.factories import NOW, make_director, make_ready_instrument, new_nonce
from tests.repairs.money_makers import make_parts_horn

pytestmark = pytest.mark.django_db


def test_the_list_shows_the_own_school_s_horns_with_what_they_gave(school, django_assert_max_num_queries):
    horn = make_parts_horn(school=school)
    make_parts_horn()
    onto = make_ready_instrument()
    take_part(parts_horn=horn, part="bell", onto=onto, batch=new_nonce(), actor=horn.marked_by, at=NOW)
    director = make_director(school)
    with django_assert_max_num_queries(3):
        found = parts_horns_for_list(director)
    assert [(one.pk, one.given) for one in found] == [(horn.pk, 1)]
