"""Which instruments are kept for parts."""

from __future__ import annotations

import pytest

from repairs.selectors.donors import parts_instruments_for_list
from tests.factories import make_director
from tests.repairs.money_makers import make_parts_instrument, make_taken

pytestmark = pytest.mark.django_db


def test_the_list_shows_the_own_school_s_instruments_with_what_they_gave(school, django_assert_max_num_queries):
    parts_instrument = make_parts_instrument(school=school)
    make_parts_instrument()
    make_taken(parts_instrument)
    director = make_director(school)
    with django_assert_max_num_queries(3):
        found = parts_instruments_for_list(director)
    assert [(one.pk, one.given) for one in found] == [(parts_instrument.pk, 1)]
