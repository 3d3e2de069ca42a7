import pytest

from desk.selectors.offline import examples_of, instruments_to_carry, open_work, tokens_of
from inventory.models import Purpose, Tag
from inventory.services.counts import open_count
from inventory.services.inspecting import start_inspection
from tests.factories import NOW, make_instrument, make_school, make_user
from tests.repairs.makers import make_job

pytestmark = pytest.mark.django_db


def test_the_instruments_of_a_persons_schools_are_carried_one_walk_for_each_build(school, tech):
    one, two = (make_instrument(school=school, asset_number=f"TV-{number}") for number in (1, 2))
    make_instrument(school=make_school(code="FAR"))
    carried = instruments_to_carry(tech)
    assert carried == [one, two]
    assert [*examples_of(carried).values()] == ["TV-1"]


def test_live_tags_lead_to_their_instrument(school):
    one = make_instrument(school=school)
    live = one.tags.get().token
    Tag.objects.create(token="23456789ABCDEFGJ", instrument=one, issued_at=NOW, revoked_at=NOW)
    assert tokens_of([one]) == {one.pk: [live]}


def test_open_work_is_what_this_person_goes_on_with(school, tech, director):
    job = make_job(school=school, actor=tech)
    count = open_count(school=school, actor=director, at=NOW)
    mine, theirs = (make_instrument(school=school) for _ in range(2))
    walk = start_inspection(instrument=mine, purpose=Purpose.SPOT, actor=tech, at=NOW)
    start_inspection(instrument=theirs, purpose=Purpose.SPOT, actor=make_user(school=school), at=NOW)
    assert open_work(tech) == {"jobs": [job], "counts": [count], "walks": [walk]}
