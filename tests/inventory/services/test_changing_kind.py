"""A wrong kind is corrected in place. Common practice, no source."""

from __future__ import annotations

import pytest

from core.exceptions import RefusedError
from core.models import Event
from inventory.models import Closed, Finding, Instrument
from inventory.services.changing_kind import correct_kind
from inventory.services.inspecting import start_inspection
from tests.factories import NOW, make_inspection, make_instrument
from tests.opening import differences

pytestmark = pytest.mark.django_db


def correct(instrument, kind, director):
    return correct_kind(instrument=instrument, kind_code=kind, actor=director, at=NOW)


def test_findings_on_parts_it_does_not_have_are_closed_and_stay(school, director):
    horn = make_instrument(school=school, kind_code="trumpet")
    walk = make_inspection(instrument=horn, findings=[("main_tuning_slide", "slide_seized", "moderate")])
    correct(horn, "flute", director)
    fixed = Instrument.objects.get(pk=horn.pk)
    assert (fixed.kind_code, fixed.verdict, fixed.asset_number) == ("flute", "not_inspected", horn.asset_number)
    finding = Finding.objects.get()
    assert finding.closed_because == Closed.OTHER_KIND
    walk.refresh_from_db()
    assert (walk.under_kind, walk.findings.count()) == ("trumpet", 1)
    assert {one.code for one in fixed.accessories.all()} == {one.code for one in fixed.kind.accessories}
    said = Event.objects.get(act="corrected", thread=horn.thread)
    assert (said.before["kind"], said.after["kind"]) == ("trumpet", "flute")
    assert differences()[1] == []
    correct(fixed, "trumpet", director)  # that was wrong, too
    again = Instrument.objects.get(pk=horn.pk)
    assert again.verdict != "not_inspected"
    assert Finding.objects.get().closed_at is None
    assert differences()[1] == []


def test_with_the_same_parts_what_was_seen_stands(school, director):
    horn = make_instrument(school=school, kind_code="trumpet")
    make_inspection(instrument=horn, findings=[("main_tuning_slide", "slide_seized", "moderate")])
    correct(horn, "cornet", director)
    assert Finding.objects.get().closed_at is None
    assert Instrument.objects.get(pk=horn.pk).verdict != "not_inspected"


def test_what_was_counted_or_has_a_tag_stays_and_is_not_expected(school, director):
    horn = make_instrument(school=school, kind_code="trumpet")
    own = {spec.code for spec in horn.kind.accessories}
    correct(horn, "flute", director)
    foreign = own - {spec.code for spec in Instrument.objects.get(pk=horn.pk).kind.accessories}
    assert foreign
    horn = make_instrument(school=school, kind_code="trumpet")
    counted = horn.accessories.get(code=min(foreign))
    horn.accessories.filter(pk=counted.pk).update(present=1)
    correct(horn, "flute", director)
    counted.refresh_from_db()
    assert (counted.expected, counted.present, counted.is_essential) == (0, 1, False)


def test_an_unknown_kind_the_same_and_an_open_inspection_are_refused(school, director):
    horn = make_instrument(school=school, kind_code="trumpet")
    with pytest.raises(RefusedError, match="no kind called"):
        correct(horn, "theremin", director)
    with pytest.raises(RefusedError, match="as that kind already"):
        correct(horn, "trumpet", director)
    start_inspection(instrument=horn, purpose="spot", actor=director, at=NOW)
    with pytest.raises(RefusedError, match="inspection of it is open"):
        correct(horn, "flute", director)
