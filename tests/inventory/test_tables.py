from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.models import Instrument
from inventory.selectors.register import for_list
from inventory.tables import InstrumentTable, PeopleTable
from tests.factories import NOW, TODAY, make_instrument, make_ready_instrument, make_school, make_user

pytestmark = pytest.mark.django_db


def cells(*, today=TODAY):
    return next(iter(InstrumentTable(for_list(Instrument.objects.all(), today=today), today=today).rows))


@pytest.mark.parametrize("sort", ["verdict", "-verdict", "school"])
def test_instruments_alike_come_by_number(sort):
    school = make_school()
    for number in ("B-2", "A-3", "C-1"):
        make_instrument(school=school, asset_number=number)
    table = InstrumentTable(for_list(Instrument.objects.all(), today=TODAY), today=TODAY, order_by=sort)
    table.paginate(page=1, per_page=50)
    assert [row.record.asset_number for row in table.paginated_rows] == ["A-3", "B-2", "C-1"]


def test_the_number_leads_to_the_instrument():
    instrument = make_instrument()
    assert f'href="/i/{instrument.asset_number}/"' in cells().get_cell("asset_number")


def test_maker_and_model_stand_in_one_cell():
    make_instrument(maker="Plain Brass Works", model="No. 4")
    assert cells().get_cell("maker") == "Plain Brass Works No. 4"


def test_the_verdict_is_a_sign_and_a_word():
    make_ready_instrument()
    assert "v-plays" in cells().get_cell("verdict")
    assert "Plays" in cells().get_cell("verdict")


def test_an_inspection_that_has_aged_out_keeps_it_in():
    instrument = make_ready_instrument()
    assert cells().get_cell("readiness") == "may go out"
    assert cells(today=instrument.ready_until).get_cell("readiness") == "may go out"
    assert cells(today=instrument.ready_until + timedelta(days=1)).get_cell("readiness") == (
        'stays in <span class="kept-in">Its last inspection is too old.</span>'
    )


def test_a_person_without_a_role_has_none_yet():
    person = make_user()
    row = next(iter(PeopleTable([person], roles_of={}).rows))
    assert row.get_cell("roles") == "none yet"


def test_a_person_kept_out_is_said_to_be():
    row = next(iter(PeopleTable([make_user(is_active=False)], roles_of={}).rows))
    assert row.get_cell("is_active") == "deactivated"


@pytest.mark.parametrize(("days", "words"), [(0, "Sep 14"), (299, "Nov 19"), (300, "Nov 2025")])
def test_the_day_it_was_last_seen_is_short(days, words):
    table = InstrumentTable(Instrument.objects.none(), today=TODAY)
    assert table.render_seen_at(NOW - timedelta(days=days)) == words
