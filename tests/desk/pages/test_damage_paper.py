"""Wear or damage as a family reads it."""

from __future__ import annotations

import pytest

from core.money import dollars
from desk.pages.damage_paper import damage_page
from desk.selectors.charging import charge_of, returned_loan
from tests.factories import make_ready_instrument
from tests.loans.makers import make_returned_loan

pytestmark = pytest.mark.django_db
DENT = ("bell_bow", "dent_small", "severe")
WORN = ("finish", "lacquer_wear", "moderate")


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", ("Damage:", "3 months", "severe", "At most", "Bell bow and bell stem: dent or ding")),
        ("es", ("Daño:", "3 meses", "grave", "Como máximo", "Codo y tubo de la campana: abolladura o golpe")),
    ],
)
def test_it_is_said_in_the_familys_language(school, language, said):
    loan = make_returned_loan([DENT, WORN], instrument=make_ready_instrument(school=school), back={"mouthpiece": 0})
    returned = returned_loan(loan)
    charge = charge_of(returned, chosen=returned.proposed)
    page = damage_page(returned, charge, language=language, photos=({}, {}), addresses={}, sender="Dana Director")
    words = str(page)
    for one in said:
        assert one in words
    assert page["lines"][-1]["text"] == dollars(charge.cap.amount)
    assert len(page["missing"]) == 1
    assert len(page["changes"]) == 2
