"""Figures that the district set for itself, over the catalog's."""

from __future__ import annotations

from django.db import models

from core.models import User


class Figure(models.Model):
    """One value of one figure from a day on. Rows are only added: of two for the same day the later one counts.

    ``inventory.catalog.figures`` says which keys there are and what their values may be.
    """

    key = models.CharField(max_length=80)
    value = models.CharField(max_length=80, blank=True)  # "": the catalog's own again
    effective_on = models.DateField()
    set_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["effective_on", "pk"]
        indexes = [models.Index(fields=["key", "effective_on"], name="figure_by_key")]

    def __str__(self) -> str:
        return f"{self.key} from {self.effective_on}"
