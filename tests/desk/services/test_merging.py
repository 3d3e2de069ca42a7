"""What loans and jobs say to merging two records."""

from __future__ import annotations

import pytest

from core.exceptions import RefusedError
from desk.services.merging import merge_records
from inventory.models import Instrument
from loans.models import SharedUse
from repairs.services.jobs import open_job
from tests.factories import NOW, TODAY, make_bench, make_ready_instrument
from tests.loans.makers import make_loan, make_seat, make_shared_use
from tests.opening import differences

pytestmark = pytest.mark.django_db


@pytest.fixture
def pair(school):
    return [make_ready_instrument(school=school) for _ in range(2)]


def refused(pair, director, words):
    with pytest.raises(RefusedError, match=words):
        merge_records(kept=pair[0], away=pair[1], actor=director, at=NOW)
    assert not Instrument.objects.exclude(merged_into=None).exists()


def lend(instrument):
    return make_loan(instrument=instrument)


def test_both_out_is_refused_and_the_one_that_is_out_is_kept(pair, director):
    lend(pair[1])
    refused(pair, director, "Merge .* into it instead")
    merged = merge_records(kept=pair[1], away=pair[0], actor=director, at=NOW)
    assert merged.whereabouts == "with_student"


def test_both_out(pair, director):
    lend(pair[0])
    lend(pair[1])
    refused(pair, director, "Both are with a student")


def test_who_shares_the_one_shares_the_other_and_no_class_has_two(pair, school, director):
    kept, away = pair
    first, second, third = (make_seat(school=school, kind_code="trumpet") for _ in range(3))
    rival = make_seat(place=second.period, kind_code="trumpet")
    moved, ended = (make_shared_use(seat=seat, instrument=away) for seat in (first, second))
    stays, own = (make_shared_use(seat=seat, instrument=kept) for seat in (rival, third))
    merge_records(kept=kept, away=away, actor=director, at=NOW)
    ended.refresh_from_db()
    assert ended.until == TODAY
    assert set(SharedUse.objects.filter(instrument=kept, until=None)) == {moved, stays, own}
    assert differences()[1] == []


def test_what_is_shared_is_not_merged_into_what_is_out(pair, school, director):
    lend(pair[0])
    make_shared_use(seat=make_seat(school=school, kind_code="trumpet"), instrument=pair[1])
    refused(pair, director, "shared in class")


def test_both_on_a_bench(pair, school, director):
    bench = make_bench(school=school)
    for one in pair:
        open_job(instrument=one, bench=bench, actor=director, at=NOW)
    refused(pair, director, "Both have an open job")
