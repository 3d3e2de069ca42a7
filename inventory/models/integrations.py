"""Other programs of the district that read, each with a token of its own."""

from __future__ import annotations

from datetime import date
from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.models.places import School


class Scope(models.TextChoices):
    """What a token opens. None of them shows a student, a guardian or a donor."""

    FLEET = "fleet", _("Schools, rooms and instruments")
    CONDITION = "condition", _("Verdicts, readiness and open findings")
    WORK = "work", _("Repair jobs")
    LOANS = "loans", _("What is lent and when it is due, without names")
    VALUE = "value", _("Costs and values")


class IntegrationQuerySet(models.QuerySet["Integration"]):
    def live(self, *, today: date) -> Self:
        return self.filter(revoked_at=None, expires_on__gte=today)


class Integration(models.Model):
    """A program that reads by a token. Whoever reads the row cannot make the token of it."""

    name = models.CharField(max_length=80)
    school = models.ForeignKey(School, models.PROTECT, null=True, blank=True, related_name="+")  # None: every school
    scopes = models.JSONField(default=list)
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    expires_on = models.DateField()  # the last day it reads
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_read_on = models.DateField(null=True, blank=True)

    objects = IntegrationQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"integration {self.pk}"

    @property
    def opens(self) -> list[str]:
        """Return in words what it may read."""
        return [str(Scope(scope).label) for scope in self.scopes]
