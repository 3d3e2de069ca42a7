"""The arithmetic of a charge as the page says it."""

from __future__ import annotations

from decimal import Decimal

import pytest

from desk.pages.charging import change_rows, sum_lines
from desk.selectors.charging import charge_of, key_of, returned_loan
from inventory.models import Instrument
from tests.factories import make_inspection, make_instrument, make_ready_instrument
from tests.loans.makers import make_returned_loan

pytestmark = pytest.mark.django_db
DENTED = key_of("bell_bow", "", "dent_small")


def test_the_lines_add_up(school):
    instrument = make_instrument(school=school, replacement_amount=Decimal(900))
    make_inspection(instrument=instrument, findings=[("bell_bow", "dent_small", "moderate")])
    instrument = Instrument.objects.get(pk=instrument.pk)
    loan = make_returned_loan([("bell_bow", "dent_small", "severe")], instrument=instrument, back={"mouthpiece": 0})
    lines = sum_lines(
        charge_of(
            returned_loan(loan), chosen=[DENTED, "accessory/mouthpiece"], prices={"accessory/mouthpiece": Decimal(45)}
        )
    )
    amounts = [line["amount"] for line in lines]
    cost = next(place for place, line in enumerate(lines) if line["label"] == "Cost of the repair")
    assert sum(amounts[:cost]) == amounts[cost]
    assert amounts[-1] == min(amounts[cost], amounts[cost + 1])
    assert lines[-1]["note"] == "by the cost of the repair"


def test_damage_comes_first_and_each_says_why(school):
    loan = make_returned_loan(
        [("finish", "lacquer_wear", "light"), ("bell_bow", "dent_small", "light")],
        instrument=make_ready_instrument(school=school),
    )
    returned = returned_loan(loan)
    rows = change_rows(returned, chosen=[DENTED], photos=({}, {}))
    assert [(row["ruled"], row["is_chosen"], row["is_offered"]) for row in rows] == [
        ("Damage", True, True),
        ("Wear", False, False),
    ]
    assert "3 months out explain it" in rows[1]["why"]
    first = sum_lines(charge_of(returned, chosen=[DENTED]))[0]
    assert (first["label"], first["amount"] > 5) == ("Estimate of the school's bench, time and parts", True)
