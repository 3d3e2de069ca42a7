"""The record of a gift."""

from __future__ import annotations

from inventory.models import Donation
from tests.database import refused
from tests.factories import TODAY, make_instrument


def test_an_instrument_was_given_once_and_its_record_has_no_value(db):
    gift = Donation.objects.create(instrument=make_instrument(), donor_name="Gale", received_on=TODAY)
    assert str(gift) == "gift of 2026-09-14"
    refused(lambda: Donation.objects.create(instrument=gift.instrument, donor_name="Gale", received_on=TODAY))
    assert not [field.name for field in Donation._meta.concrete_fields if "amount" in field.name]
