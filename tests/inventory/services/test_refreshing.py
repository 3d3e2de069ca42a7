"""After a change of rules the stored columns follow, and the log says why."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event
from inventory.catalog.load import FOLDER, load_catalog
from inventory.models import Instrument, School
from inventory.selectors.fleet import count_of, fleets_of, may_go_out, states_of
from inventory.services.refreshing import refresh_all_states
from tests.catalogs import using
from tests.factories import NOW, TODAY, make_instrument, make_ready_instrument
from tests.opening import differences


@pytest.fixture
def shorter(tmp_path):
    """The district lets an inspection speak for half a year."""
    entry = "settings:\n  inspection_valid_days: {value: 180, origin: shop_default}\n"
    (tmp_path / "settings.yaml").write_text(entry, encoding="utf-8")
    return load_catalog(FOLDER, tmp_path)


def test_an_inspection_that_speaks_for_a_shorter_time_is_mended_by_one_event(school, shorter):
    instruments = [make_ready_instrument(school=school) for _ in range(3)]
    make_instrument(school=school)
    with using(shorter):
        assert len(differences()[1]) == 3
        assert refresh_all_states(because="Half a year from now on.", actor=None, at=NOW) == 3
        assert differences() == (4, [])
    assert {Instrument.objects.get(pk=instrument.pk).ready_until for instrument in instruments} == {
        TODAY + timedelta(days=180)
    }
    event = Event.objects.latest("number")
    assert (event.act, event.after) == ("refreshed", {"because": "Half a year from now on.", "instruments": 3})


def test_a_verdict_that_changes_stands_in_the_thread_of_its_instrument(school):
    instrument = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(verdict="does_not_play", readiness="stays_in")
    assert refresh_all_states(because="A rule was wrong.", actor=None, at=NOW) == 1
    acts = list(Event.objects.order_by("-number").values_list("act", "thread")[:2])
    assert sorted(acts) == [("judged", instrument.thread), ("refreshed", "")]
    event = Event.objects.filter(act="judged").latest("number")
    assert event.before == {"verdict": "does_not_play", "readiness": "stays_in"}
    assert event.after == {"verdict": "plays", "readiness": "may_go_out"}


def test_where_nothing_changes_nothing_is_written(school):
    make_ready_instrument(school=school)
    before = Event.objects.count()
    assert refresh_all_states(because="Nothing.", actor=None, at=NOW) == 0
    assert Event.objects.count() == before


def test_sums_that_are_kept_of_a_school_follow_a_refresh(school):
    instrument = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(ready_until=TODAY - timedelta(days=1))

    def ready() -> int:
        fleets = fleets_of(School.objects.filter(pk=school.pk), today=TODAY)
        return count_of(states_of(fleets.values()), may_go_out)

    assert ready() == 0
    refresh_all_states(because="The catalog is back.", actor=None, at=NOW)
    assert ready() == 1
