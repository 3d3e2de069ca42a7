"""Attribute samples: the plan, the frame and seed that they were drawn from, and what was found at each instrument."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.models.instruments import Instrument
from inventory.models.places import School, SchoolRowsQuerySet
from inventory.rules.sampling import BINOMIAL, HYPERGEOMETRIC


class Strata(models.TextChoices):
    NONE = "none", _("Not stratified")
    SCHOOL = "school", _("By school")
    VALUE = "value", _("By replacement cost")


class Tested(models.TextChoices):
    PLACE = "place", _("It is where the register says")
    IDENTITY = "identity", _("Kind, maker, model and serial are as recorded")
    CONDITION = "condition", _("Its condition is as recorded")
    TAG = "tag", _("It carries the tag that is on record")


class SampleQuerySet(SchoolRowsQuerySet["Sample"]):
    """Reads of samples. One of the whole district is seen by those with a role in the whole district."""

    way_to_school = "school"
    view_permission = "inventory.view_sample"

    def for_table(self) -> Self:
        return self.select_related("school", "drawn_by").defer("frame")


class Sample(models.Model):
    """A sample, drawn once. Everything that another auditor needs to draw and to evaluate it again."""

    class Stopped(models.TextChoices):
        PLAN = "plan", _("The plan was wrong")
        TIME = "time", _("There was no time to finish it")
        CHANGED = "changed", _("The fleet has changed too much since")

    school = models.ForeignKey(School, models.PROTECT, null=True, blank=True, related_name="+")  # None: the district
    # The plan; rates are shares.
    confidence = models.DecimalField(max_digits=5, decimal_places=4)
    tolerable_rate = models.DecimalField(max_digits=5, decimal_places=4)
    expected_rate = models.DecimalField(max_digits=5, decimal_places=4)
    distribution = models.CharField(
        max_length=16, choices=[(HYPERGEOMETRIC, _("Hypergeometric")), (BINOMIAL, _("Binomial"))]
    )
    tested = models.JSONField(default=list)  # codes of Tested
    tested_words = models.CharField(max_length=300, blank=True)
    strata = models.CharField(max_length=8, choices=Strata, default=Strata.NONE)
    cuts = models.JSONField(default=list, blank=True)  # of value bands, as text: "500"
    # What it was drawn from.
    seed = models.CharField(max_length=64)
    frame = models.TextField()  # inventory.rules.sample_frame.frame_text
    frame_sha256 = models.CharField(max_length=64)
    population = models.PositiveIntegerField()
    size = models.PositiveIntegerField()
    allowed = models.PositiveIntegerField()  # deviations up to which the plan passes
    drawn_at = models.DateTimeField()
    drawn_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    stopped_because = models.CharField(max_length=16, choices=Stopped, blank=True)  # "": it was finished, or is open

    objects = SampleQuerySet.as_manager()

    class Meta:
        ordering = ["-drawn_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(size__gte=1, size__lte=F("population"), allowed__lte=F("size")), name="sample_size_fits"
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None, stopped_because="")
                | Q(closed_at__isnull=False, closed_by__isnull=False),
                name="sample_closed_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"sample {self.pk}"

    @property
    def is_open(self) -> bool:
        return self.closed_at is None

    @property
    def is_finished(self) -> bool:
        return self.closed_at is not None and not self.stopped_because

    @property
    def fleet(self) -> int | None:
        """The population as the rules take it: None where the binomial distribution is used."""
        return self.population if self.distribution == HYPERGEOMETRIC else None


class SampleItemQuerySet(SchoolRowsQuerySet["SampleItem"]):
    way_to_school = "sample__school"
    view_permission = "inventory.view_sample"

    def examined(self) -> Self:
        return self.exclude(result="")

    def left(self) -> Self:
        return self.filter(result="")

    def deviating(self) -> Self:
        return self.filter(result__in=DEVIATING)


class SampleItem(models.Model):
    """One instrument drawn, with what the register said of it on that day, and what was found."""

    class Result(models.TextChoices):
        AS_RECORDED = "as_recorded", _("As recorded")
        DEVIATES = "deviates", _("Deviation")
        NOT_FOUND = "not_found", _("Not found")

    sample = models.ForeignKey(Sample, models.PROTECT, related_name="items")
    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="+")
    place = models.PositiveIntegerField()  # in the sample, from 1
    stratum = models.CharField(max_length=16)
    number = models.CharField(max_length=20)  # its asset number when it was drawn
    key = models.CharField(max_length=64)  # inventory.rules.sampling.selection_key
    recorded = models.JSONField(default=dict)  # what the register said when it was drawn
    result = models.CharField(max_length=16, choices=Result, blank=True)  # "": not examined yet
    note = models.CharField(max_length=500, blank=True)
    examined_at = models.DateTimeField(null=True, blank=True)
    examined_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    objects = SampleItemQuerySet.as_manager()

    class Meta:
        ordering = ["sample", "place"]
        constraints = [
            models.UniqueConstraint(fields=["sample", "place"], name="sample_item_place"),
            models.UniqueConstraint(fields=["sample", "instrument"], name="sample_item_once"),
            models.CheckConstraint(
                condition=Q(result="", examined_at=None, examined_by=None)
                | (~Q(result="") & Q(examined_at__isnull=False, examined_by__isnull=False)),
                name="sample_item_examined_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def deviates(self) -> bool:
        return self.result in DEVIATING


DEVIATING = (SampleItem.Result.DEVIATES, SampleItem.Result.NOT_FOUND)
