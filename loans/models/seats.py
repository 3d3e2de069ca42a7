"""Who plays what in which ensemble or class: the demand for instruments."""

from __future__ import annotations

from typing import Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load import catalog
from inventory.models import Instrument, School, SchoolRowsQuerySet
from inventory.rules.playing import LEVEL_NAMES
from loans.models.lending import Loan
from loans.models.people import Student

LEVELS = tuple((code, _(name)) for code, name in LEVEL_NAMES.items())
FIRST, LAST = 1, 9  # the priorities of ensembles


class EnsembleQuerySet(SchoolRowsQuerySet["Ensemble"]):
    way_to_school = "school"
    view_permission = "loans.view_need"


class Ensemble(models.Model):
    """A group that plays together. Where instruments are too few, those of a lower number come first."""

    school = models.ForeignKey(School, models.PROTECT, related_name="ensembles")
    name = models.CharField(max_length=80)
    level = models.CharField(max_length=16, choices=LEVELS, default="concert")
    priority = models.PositiveSmallIntegerField(
        default=5, validators=[MinValueValidator(FIRST), MaxValueValidator(LAST)]
    )
    is_active = models.BooleanField(default=True)

    objects = EnsembleQuerySet.as_manager()

    class Meta:
        ordering = ["priority", "name", "pk"]
        constraints = [models.UniqueConstraint(fields=["school", "name"], name="ensemble_name_in_school")]

    def __str__(self) -> str:
        return self.name


class ClassPeriodQuerySet(SchoolRowsQuerySet["ClassPeriod"]):
    way_to_school = "school"
    view_permission = "loans.view_need"


class ClassPeriod(models.Model):
    """A class as the timetable has it, often one in which an ensemble rehearses."""

    school = models.ForeignKey(School, models.PROTECT, related_name="periods")
    ensemble = models.ForeignKey(Ensemble, models.PROTECT, null=True, blank=True, related_name="periods")
    name = models.CharField(max_length=80)
    place = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(0), MaxValueValidator(99)])
    sourced_id = models.CharField(max_length=255, blank=True)  # of the class in the roster; "": entered by hand
    is_active = models.BooleanField(default=True)

    objects = ClassPeriodQuerySet.as_manager()

    class Meta:
        ordering = ["place", "name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["school", "sourced_id"], condition=~Q(sourced_id=""), name="class_period_sourced_once"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class SeatQuerySet(SchoolRowsQuerySet["Seat"]):
    way_to_school = "student__school"
    view_permission = "loans.view_seat"

    def open(self) -> Self:
        """Seats of today's students in what still meets."""
        return self.filter(
            Q(period=None) | Q(period__is_active=True),
            Q(period__ensemble=None) | Q(period__ensemble__is_active=True),
            Q(ensemble=None) | Q(ensemble__is_active=True),
            until=None,
            student__left_on=None,
            student__off_roster_on=None,
            student__erased_at=None,
        )

    def wanting(self) -> Self:
        """Those that need an instrument of the school, whether its player has one or not."""
        return self.open().exclude(kind_code="").filter(is_own=False)

    def unmet(self) -> Self:
        """Those whose player has none of that kind, and shares none in this class."""
        has = Loan.objects.open().filter(student=OuterRef("student"), instrument__kind_code=OuterRef("kind_code"))
        shares = SharedUse.objects.filter(seat=OuterRef("pk"), until=None)
        return self.wanting().filter(~Exists(has), ~Exists(shares))


class Seat(models.Model):
    """One student playing one kind in one class, or in an ensemble that meets outside the timetable."""

    student = models.ForeignKey(Student, models.PROTECT, related_name="seats")
    ensemble = models.ForeignKey(Ensemble, models.PROTECT, null=True, blank=True, related_name="seats")
    period = models.ForeignKey(ClassPeriod, models.PROTECT, null=True, blank=True, related_name="seats")
    kind_code = models.CharField(max_length=40, blank=True)  # "": nobody has said yet
    size = models.CharField(max_length=8, blank=True)  # "": any
    level = models.CharField(max_length=16, choices=LEVELS, blank=True)  # "": the ensemble's, else the student's
    is_own = models.BooleanField(default=False)  # plays an instrument of the family's own
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    objects = SeatQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ensemble=None, period__isnull=False) | Q(ensemble__isnull=False, period=None),
                name="seat_in_one_place",
            ),
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=models.F("since")), name="seat_ends_after_it_begins"
            ),
            models.UniqueConstraint(
                fields=["student", "period", "kind_code"], condition=Q(until=None), name="seat_once_in_period"
            ),
            models.UniqueConstraint(
                fields=["student", "ensemble", "kind_code"],
                condition=Q(until=None, period=None),
                name="seat_once_in_ensemble",
            ),
        ]
        indexes = [models.Index(fields=["kind_code", "student"], condition=Q(until=None), name="seat_open_by_kind")]

    def __str__(self) -> str:
        return f"seat {self.pk}"

    @property
    def kind_name(self) -> str:
        return catalog().kind(self.kind_code).name if self.kind_code else ""


class SharedUseQuerySet(SchoolRowsQuerySet["SharedUse"]):
    way_to_school = "period__school"
    view_permission = "loans.view_seat"

    def open(self) -> Self:
        """Those of today's students in classes that meet."""
        return self.filter(until=None, seat__in=Seat.objects.open())


class SharedUse(models.Model):
    """One student's use of an instrument that stays in the room, in one class period; others use it in other periods."""

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="shared_uses")
    seat = models.ForeignKey(Seat, models.PROTECT, related_name="shared_uses")
    period = models.ForeignKey(ClassPeriod, models.PROTECT, related_name="shared_uses")  # the seat's
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    objects = SharedUseQuerySet.as_manager()

    class Meta:
        ordering = ["period__place", "period__name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["instrument", "period"], condition=Q(until=None), name="shared_once_in_period"
            ),
            models.UniqueConstraint(fields=["seat"], condition=Q(until=None), name="shared_one_by_seat"),
        ]

    def __str__(self) -> str:
        return f"shared use {self.pk}"
