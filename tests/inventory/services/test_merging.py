"""Two records of one instrument."""

from __future__ import annotations

import pytest

from core.exceptions import RefusedError
from core.models import Event
from inventory.models import Instrument
from inventory.services.merging import merge_instruments, unmerge_instrument
from tests.factories import NOW, make_instrument, make_school
from tests.opening import differences

pytestmark = pytest.mark.django_db


@pytest.fixture
def pair(school):
    return make_instrument(school=school, asset_number="A1"), make_instrument(school=school, asset_number="A2")


def test_the_other_record_leads_to_the_one_that_is_kept_and_can_be_taken_apart_again(pair, director):
    kept, away = pair
    before = Event.objects.filter(thread=away.thread).count()
    merge_instruments(kept=kept, away=away, actor=director, at=NOW)
    away.refresh_from_db()
    assert (away.merged_into, away.whereabouts) == (kept, "gone")
    assert Event.objects.filter(thread=away.thread).count() > before
    assert differences()[1] == []
    unmerge_instrument(away=away, actor=director, at=NOW)
    away.refresh_from_db()
    assert (away.merged_into, away.whereabouts) == (None, "in_store")
    assert differences()[1] == []
    with pytest.raises(RefusedError, match="separate record"):
        unmerge_instrument(away=away, actor=director, at=NOW)


def test_a_pointer_that_no_event_told_of_is_found(pair, director):
    kept, away = pair
    Instrument.objects.filter(pk=away.pk).update(merged_into=kept)
    assert any("merged into" in line for line in differences()[1])


def test_itself_another_school_and_a_record_merged_before_are_refused(pair, school, director):
    kept, away = pair
    third, elsewhere = make_instrument(school=school), make_instrument(school=make_school())
    merge_instruments(kept=kept, away=away, actor=director, at=NOW)
    for one, other, words in (
        (kept, kept, "same record"),
        (kept, elsewhere, "different schools"),
        (third, away, "already"),
        (away, third, "already"),
    ):
        with pytest.raises(RefusedError, match=words):
            merge_instruments(kept=one, away=other, actor=director, at=NOW)
