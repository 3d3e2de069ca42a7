"""Names of the trade as templates show them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from inventory.models import Finding, Instrument, Whereabouts
from repairs.rules.season import Bill, CameBack, Repaired
from repairs.selectors.care import CareDue
from repairs.selectors.season import BackLine
from repairs.templatetags.trade import (
    back_words,
    billed_work,
    care_words,
    counted_faults,
    fault_name,
    finding_row_words,
    method_name,
    tool_names,
)
from tests.factories import make_inspection, make_instrument


@pytest.mark.parametrize(
    ("where", "last_on", "days_over", "words"),
    [
        (Whereabouts.IN_STORE, date(2026, 3, 5), 12, "last Mar 5, 2026, 12 days over"),
        (Whereabouts.WITH_STUDENT, None, 1, "with a student · never recorded, 1 day over"),
        (Whereabouts.IN_STORE, date(2025, 9, 14), 0, "last Sep 14, 2025, due today"),
    ],
)
def test_care_that_is_due_says_where_and_since_when(where, last_on, days_over, words):
    due = CareDue(Instrument(whereabouts=where), due_on=date(2026, 9, 14), last_on=last_on, days_over=days_over)
    assert care_words(due) == words


def test_what_the_catalog_knows_has_its_name_and_what_it_dropped_none():
    assert fault_name("slide_seized") == "stuck or seized slide"
    assert (method_name("water_key_cork"), method_name("dropped")) == ("Replace the water-key cork", "")
    assert tool_names(["no_such_tool"]) == "no such tool"


def test_faults_are_counted_by_name():
    name = fault_name("slide_seized")
    assert counted_faults([("slide_seized", 4), ("slide_seized", 1)]) == f"{name} (4), {name} (1)"


def test_work_is_named_by_what_was_billed_most():
    bills = [
        Bill(method=name, tools=frozenset(), amount=Decimal(9), own_amount=Decimal(1), count=count)
        for name, count in (("Repad", 1), ("Solder", 2), ("Solder", 1), ("Cork", 4), ("Buff", 2))
    ]
    assert billed_work(bills) == "Cork (4), Solder (3), Buff (2)"
    assert billed_work(bills[:1]) == "Repad"


@pytest.mark.django_db
def test_a_finding_is_said_with_its_part():
    instrument = make_instrument(kind_code="trumpet")
    make_inspection(instrument=instrument, findings=[("third_valve_slide", "slide_seized", "severe")])
    row = Finding.objects.get(instrument=instrument)
    assert "third valve slide" in finding_row_words(row).lower()
    spot = (str(instrument.pk), "third_valve_slide", "", "slide_seized")
    back = CameBack(Repaired(spot, date(2026, 8, 3), method="", job=""), again_on=date(2026, 8, 9))
    assert back_words(BackLine(instrument, back)) == "Third valve slide: stuck or seized slide"
