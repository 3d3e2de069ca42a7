"""New instruments by the dealer's list: brought in by the import itself, and the same twice."""

from __future__ import annotations

import pytest

from desk.demo.delivery import WAIT, import_delivery, inspect_delivery
from desk.demo.stage import Stage
from inventory.models import ImportRow, Instrument, Tag
from tests.desk.demo.stages import make_stage

pytestmark = pytest.mark.django_db


def test_twelve_come_in_and_the_row_that_is_no_instrument_stays_to_be_put_right():
    stage = make_stage(peopled=True)
    batch = import_delivery(stage)
    batch.refresh_from_db()
    assert (batch.state, batch.rows_new, batch.rows_problem) == ("published", 12, 1)
    assert "not a kind of instrument" in ImportRow.objects.get(batch=batch, state="problem").reason
    new = Instrument.objects.exclude(fingerprint="")
    assert set(new.values_list("school__code", "room__name", "acquired_by")) == {("MILL", "Music room", "bought")}
    assert all(
        instrument.acquisition_cost_amount and instrument.funding_source and instrument.acquired_on
        for instrument in new
    )


def test_all_but_the_last_are_looked_at_and_sound():
    stage = make_stage(peopled=True)
    import_delivery(stage)
    inspect_delivery(stage)
    verdicts = list(Instrument.objects.exclude(fingerprint="").values_list("verdict", flat=True))
    assert sorted(verdicts) == ["not_inspected"] * WAIT + ["plays"] * (12 - WAIT)


def test_the_tags_are_drawn_from_the_stage(monkeypatch):
    numbers = iter(range(100))
    monkeypatch.setattr(Stage, "token", lambda _: f"DRAWN{next(numbers):02d}")
    import_delivery(make_stage(peopled=True))
    assert set(Tag.objects.values_list("token", flat=True)) == {f"DRAWN{number:02d}" for number in range(12)}
