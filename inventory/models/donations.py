"""Gifts: who gave an instrument."""

from __future__ import annotations

from django.db import models

from inventory.models.instruments import Instrument


class Donation(models.Model):
    """Who gave it. Kept apart from the instrument's page; holds no dollar value, on purpose."""

    instrument = models.OneToOneField(Instrument, models.PROTECT, related_name="donation")
    donor_name = models.CharField(max_length=120)
    donor_contact = models.CharField(max_length=200, blank=True)
    received_on = models.DateField()
    thanked_on = models.DateField(null=True, blank=True)
    tax_form_signed_on = models.DateField(null=True, blank=True)
    history = models.TextField(blank=True, max_length=4000)

    def __str__(self) -> str:
        return f"gift of {self.received_on:%Y-%m-%d}"
