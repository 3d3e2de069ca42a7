"""Cases of a lost or stolen instrument."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.models import SchoolRowsQuerySet
from loans.models.lending import Loan
from loans.rules.losses import Kind


class LossQuerySet(SchoolRowsQuerySet["Loss"]):
    way_to_school = "loan__school"
    view_permission = "loans.view_loss"

    def open(self) -> Self:
        return self.filter(ended_at=None)

    def for_table(self) -> Self:
        return self.select_related("loan__instrument", "loan__school", "loan__student")


class Loss(models.Model):
    """A lent instrument that is lost or was stolen: who was notified, under which numbers, and how it ended.

    What the family is charged, and what is taken off, stands in the ledger.
    """

    class Sort(models.TextChoices):
        LOST = Kind.LOST, _("Lost")
        STOLEN = Kind.STOLEN, _("Stolen")

    class Outcome(models.TextChoices):
        FOUND = "found", _("Found, it is here")
        WITH_STUDENT = "student", _("Found, the student has it")
        GIVEN_UP = "given_up", _("Given up")

    loan = models.ForeignKey(Loan, models.PROTECT, related_name="losses")
    sort = models.CharField(max_length=8, choices=Sort)
    noticed_on = models.DateField()
    search_until = models.DateField()
    circumstances = models.CharField(max_length=400, blank=True)
    steps = models.JSONField(default=dict, blank=True)  # code of loans.rules.losses -> the day it was done
    police_agency = models.CharField(max_length=80, blank=True)
    police_number = models.CharField(max_length=40, blank=True)
    insurer = models.CharField(max_length=80, blank=True)
    claim_number = models.CharField(max_length=40, blank=True)
    reported_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    outcome = models.CharField(max_length=8, choices=Outcome, blank=True)
    found_on = models.DateField(null=True, blank=True)

    objects = LossQuerySet.as_manager()

    class Meta:
        ordering = ["-noticed_on", "-pk"]
        verbose_name_plural = "losses"
        constraints = [
            models.UniqueConstraint(fields=["loan"], condition=Q(ended_at=None), name="loss_one_open"),
            models.CheckConstraint(
                condition=Q(outcome="", ended_at=None) | (~Q(outcome="") & Q(ended_at__isnull=False)),
                name="loss_ended_how",
            ),
        ]

    def __str__(self) -> str:
        return f"loss {self.pk}"

    @property
    def is_over(self) -> bool:
        """Whether nothing more can come of it; what was given up may still be found."""
        return self.outcome in (self.Outcome.FOUND, self.Outcome.WITH_STUDENT)
