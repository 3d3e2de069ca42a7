"""Secret addresses of calendars."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q

from core.models import User
from inventory.models.places import School


class CalendarLinkQuerySet(models.QuerySet["CalendarLink"]):
    def live(self) -> Self:
        return self.filter(revoked_at=None, user__is_active=True)


class CalendarLink(models.Model):
    """An address by which one person's calendar program reads one school's days. Whoever reads the row cannot make it."""

    user = models.ForeignKey(User, models.PROTECT, related_name="calendar_links")
    school = models.ForeignKey(School, models.PROTECT, related_name="calendar_links")
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = CalendarLinkQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["user", "school"], condition=Q(revoked_at=None), name="calendar_link_one_live"
            ),
        ]

    def __str__(self) -> str:
        return f"calendar link {self.pk}"
