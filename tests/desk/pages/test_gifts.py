"""Letters to a giver. No value in either: the giver states one (instructions to US Form 8283), the school never does."""

from __future__ import annotations

import re

import pytest

from desk.pages.gifts import ACCEPTANCE, THANKS, gift_letter
from inventory.services.registering import record_donation
from tests.factories import NOW, TODAY, make_ready_instrument

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("which", [THANKS, ACCEPTANCE])
def test_a_letter_names_giver_and_instrument_and_no_value(school, director, which):
    horn = make_ready_instrument(school=school, acquisition_cost_amount=750, replacement_amount=1200)
    gift = record_donation(instrument=horn, donor_name="Gale", received_on=TODAY, actor=director, at=NOW)
    letter = gift_letter(which, instrument=horn, gift=gift, day=TODAY, signer="Dana Director")
    text = " ".join((letter.title, *letter.paragraphs, *(f"{name} {value}" for name, value in letter.facts)))
    assert letter.to == ("Gale",)
    assert horn.serial in text
    assert not re.search(r"\$|750|1,?200", text)
    assert len(letter.signatures) == (1 if which == THANKS else 2)


def test_the_thanks_say_that_nothing_was_given_in_return(school, director):
    """IRS Publication 1771: an acknowledgment says whether goods or services were given in return."""
    horn = make_ready_instrument(school=school)
    gift = record_donation(instrument=horn, donor_name="Gale", received_on=TODAY, actor=director, at=NOW)
    letter = gift_letter(THANKS, instrument=horn, gift=gift, day=TODAY, signer="Dana Director")
    assert any("no goods or services" in paragraph for paragraph in letter.paragraphs)
