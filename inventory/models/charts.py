"""Fingering charts that the district has checked."""

from __future__ import annotations

from django.db import models

from core.models import User


class ChartConfirmation(models.Model):
    """Somebody compared a chart with real instruments. Valid only for the content that was confirmed."""

    chart = models.CharField(max_length=80, unique=True)  # its code in the catalog
    digest = models.CharField(max_length=64)  # of the content: a chart that changes later has to be confirmed again
    confirmed_on = models.DateField()
    confirmed_by = models.ForeignKey(User, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["chart"]

    def __str__(self) -> str:
        return self.chart
