"""A whole file in one go."""

from __future__ import annotations

import pytest

from core.models import Event
from inventory.exceptions import RefusedError
from inventory.models import ColumnMemory, ImportBatch, Instrument
from inventory.services.importing import import_file, judge_file
from tests.factories import NOW, TODAY
from tests.inventory.services.importing.makers import LIST

pytestmark = pytest.mark.django_db


def test_judging_a_file_writes_nothing_at_all(school):
    rows = judge_file(school=school, data=LIST, filename="a.csv", today=TODAY)
    assert [row.state for row in rows] == ["new", "new", "problem"]
    assert not Event.objects.exists()
    assert not ImportBatch.objects.exists()


def test_a_file_is_brought_in_by_nobody_and_the_events_say_so(school):
    assert import_file(school=school, data=LIST, filename="a.csv", at=NOW, today=TODAY) == 2
    event = Event.objects.get(act="imported")
    assert (event.actor, event.after["by"], event.after["rows"]) == (None, "the command", 2)
    assert not ColumnMemory.objects.exists()


def test_a_file_that_holds_nothing_new_leaves_no_list_waiting(school):
    import_file(school=school, data=LIST, filename="a.csv", at=NOW, today=TODAY)
    assert import_file(school=school, data=LIST, filename="a.csv", at=NOW, today=TODAY) == 0
    assert Instrument.objects.count() == 2
    assert not ImportBatch.objects.filter(state__in=["reading", "judged"]).exists()


def test_a_file_without_a_kind_is_refused(school):
    with pytest.raises(RefusedError, match="what kind"):
        judge_file(school=school, data=b"Make,Serial\nPlain,1\nPlain,2\n", filename="a.csv", today=TODAY)
