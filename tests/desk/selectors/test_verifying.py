"""Stored columns against the facts: whatever is tampered with is found, and what services wrote is not."""

from __future__ import annotations

import pytest

from core.models import EventHead
from desk.selectors.verifying import difference_words, differences
from inventory.models import Custody, Finding, Instrument
from loans.models import Loan, Loss
from repairs.models import StockItem
from repairs.services.jobs import open_job
from tests.factories import NOW, make_bench, make_inspection, make_instrument, make_ready_instrument
from tests.loans.makers import make_loan, make_loss
from tests.opening import open_all
from tests.repairs.money_makers import make_item, make_parts_instrument, make_taken
from tests.tampering import tamper


@pytest.fixture
def circle(school, director, tech):
    """Ready, out, on the bench, and never inspected."""
    ready = make_ready_instrument(school=school)
    make_loan(school=school, actor=director)
    broken = make_instrument(school=school)
    make_inspection(instrument=broken, findings=[("third_valve_slide", "slide_seized", "severe")])
    open_job(instrument=Instrument.objects.get(pk=broken.pk), bench=make_bench(school=school), actor=tech, at=NOW)
    make_instrument(school=school)
    open_all()
    return ready


def found():
    return differences()[1]


def test_what_the_services_wrote_follows_from_the_facts(circle):
    assert differences() == (4, [])
    loss = make_loss(Loan.objects.open().get())
    assert differences() == (4, []), "out, and searched for"
    Loss.objects.filter(pk=loss.pk).update(ended_at=NOW, outcome=Loss.Outcome.WITH_STUDENT)
    assert any("whereabouts is not_found, but a loan is open" in line for line in found())


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("verdict", "does_not_play"),
        ("limits", ["Nothing."]),
        ("readiness", "stays_in"),
        ("readiness_reasons", [{"code": "x", "text": "y", "clears": "z", "stays_in": True}]),
        ("ready_until", None),
        ("inspected_at", None),
    ],
)
def test_a_column_written_past_the_services_is_found(circle, column, value):
    Instrument.objects.filter(pk=circle.pk).update(**{column: value})
    assert len(found()) == 1
    assert f"{circle.asset_number}: {column} is" in found()[0]


@pytest.mark.parametrize("where", ["with_student", "on_bench", "gone"])
def test_whereabouts_without_their_custody_are_found(circle, where):
    Instrument.objects.filter(pk=circle.pk).update(whereabouts=where)
    assert any("its open custody says in_store" in line for line in found())


def test_a_lent_instrument_without_a_loan_is_found(circle):
    Instrument.objects.filter(pk=circle.pk).update(whereabouts="with_student")
    Custody.objects.filter(instrument=circle, until=None).update(whereabouts="with_student")
    assert any("no loan is open" in line for line in found())


def test_an_instrument_on_the_bench_without_a_job_is_found(circle):
    Instrument.objects.filter(pk=circle.pk).update(whereabouts="on_bench")
    Custody.objects.filter(instrument=circle, until=None).update(whereabouts="on_bench")
    assert any("no job is open" in line for line in found())


def test_an_event_changed_in_the_database_is_found(circle):
    tamper("UPDATE core_event SET act = 'nothing_happened' WHERE number = 2")
    assert "event 2: its content does not match its hash" in found()


def test_an_event_taken_out_is_found(circle):
    tamper("DELETE FROM core_event WHERE number = 3")
    assert any("follows 2" in line for line in found())


def test_events_cut_off_at_the_end_are_found(circle):
    last = EventHead.objects.get().last_number
    tamper("DELETE FROM core_event WHERE number = %s", last)
    assert f"the chain ends at {last - 1}, but its head says {last}" in found()


def test_what_is_at_a_shop_kept_for_parts_or_booked_past_the_services_is_found(circle):
    make_item(quantity="2")
    StockItem.objects.update(quantity=5)
    Instrument.objects.filter(pk=circle.pk).update(is_parts_instrument=True, whereabouts="at_shop")
    Custody.objects.filter(instrument=circle, until=None).update(whereabouts="at_shop")
    taken = make_taken(make_parts_instrument(), onto=circle)[0]
    Finding.objects.filter(instrument=taken.parts_instrument.instrument).delete()
    told = " ".join(found())
    assert f"was taken for {circle.asset_number}, but is not missing there" in told
    assert "no order is at a shop" in told
    assert "no parts instrument stands" in told
    assert "its moves add up to 2" in told


def test_each_wrong_column_is_a_sentence_of_its_own():
    instrument = Instrument(asset_number="TD-1", verdict="plays", limits=[])
    assert difference_words(instrument, {}) == []
    assert difference_words(instrument, {"verdict": "does_not_play", "limits": ["low D"]}) == [
        "TD-1: verdict is 'plays', the facts say 'does_not_play'",
        "TD-1: limits is [], the facts say ['low D']",
    ]
