"""Physical counts: what is expected at a school, what was seen there, and how the differences were settled."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.models.instruments import Instrument, Whereabouts
from inventory.models.places import Room, School, SchoolRowsQuerySet
from inventory.rules.counting import Outcome, Reason

OUTCOME_LABELS = {
    Outcome.FOUND: _("Found"),
    Outcome.OTHER_ROOM: _("Found in another room"),
    Outcome.OTHER_SCHOOL: _("Belongs to another school"),
    Outcome.FOUND_AGAIN: _("Had not been found before"),
    Outcome.GONE_HERE: _("Recorded as gone, but here"),
    Outcome.CONFIRMED: _("Recorded as out, and shown"),
    Outcome.BY_RECORD: _("Recorded as out, not shown"),
    Outcome.LEFT: _("Left during the count"),
    Outcome.UNKNOWN: _("Unknown number"),
    Outcome.NOT_FOUND: _("Not found"),
    Outcome.STILL_MISSING: _("Still not found"),
}
REASON_LABELS = {
    Reason.MOVED_HERE: _("It stays here: change its room"),
    Reason.GOES_BACK: _("Goes back to its room"),
    Reason.MISSING: _("Missing: record as not found"),
    Reason.SEEN_LATER: _("Seen after the count"),
    Reason.UNREADABLE: _("Here, its label cannot be read"),
    Reason.NOT_RECORDED: _("With somebody, and not recorded"),
    Reason.ENTERED_TWICE: _("Entered twice"),
    Reason.GONE: _("Sold, scrapped or given away, and not recorded"),
    Reason.BACK: _("Record as found, in storage"),
    Reason.LOAN_TO_SETTLE: _("Found: settle its loan next"),
    Reason.RETURN_TO_SCHOOL: _("Goes back to its school"),
    Reason.TRANSFER: _("Stays here: transfer it next"),
    Reason.CORRECT: _("Here after all: correct its record next"),
    Reason.TO_REGISTER: _("Ours: register it next"),
    Reason.NOT_OURS: _("Not the district's"),
    Reason.MISREAD: _("Misread or mistyped"),
}


class CountQuerySet(SchoolRowsQuerySet["Count"]):
    way_to_school = "school"
    view_permission = "inventory.view_count"

    def open(self) -> Self:
        return self.filter(signed_at=None, dropped_at=None)

    def closed(self) -> Self:
        return self.exclude(signed_at=None, dropped_at=None)

    def signed(self) -> Self:
        return self.filter(signed_at__isnull=False)

    def for_table(self) -> Self:
        return self.select_related("school", "opened_by", "signed_by", "second")


class Count(models.Model):
    """A physical count of one school, or of some of its rooms. ``counted_at``: counting has ended, differences remain.

    Nothing in the register follows from it before it is signed, by two people.
    """

    school = models.ForeignKey(School, models.PROTECT, related_name="counts")
    rooms = models.ManyToManyField(Room, related_name="+", blank=True)  # none: the whole school
    is_whole = models.BooleanField(default=True)
    is_blind = models.BooleanField(default=False)  # who counts does not see what is expected
    round = models.PositiveSmallIntegerField(default=1)  # 2 and later: only differences are counted again
    expected = models.PositiveIntegerField(default=0)  # instruments in storage when it was opened
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    counted_at = models.DateTimeField(null=True, blank=True)
    dropped_at = models.DateTimeField(null=True, blank=True)
    signed_at = models.DateTimeField(null=True, blank=True)
    signed_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    second = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    objects = CountQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["school"], condition=Q(signed_at=None, dropped_at=None), name="count_one_open_at_school"
            ),
            models.CheckConstraint(
                condition=Q(signed_at=None, signed_by=None, second=None)
                | (
                    Q(signed_at__isnull=False, counted_at__isnull=False, dropped_at=None)
                    & Q(signed_by__isnull=False, second__isnull=False)
                    & ~Q(signed_by=F("second"))
                ),
                name="count_signed_by_two",
            ),
        ]

    def __str__(self) -> str:
        return f"count {self.pk} of {self.opened_at:%Y-%m-%d}"

    @property
    def is_open(self) -> bool:
        return self.signed_at is None and self.dropped_at is None

    @property
    def is_counting(self) -> bool:
        return self.is_open and self.counted_at is None

    @property
    def hides_expected(self) -> bool:
        """It is blind, and counting still goes on."""
        return self.is_blind and self.is_counting


class CountRowsQuerySet(SchoolRowsQuerySet["CountLine"]):
    way_to_school = "count__school"
    view_permission = "inventory.view_count"


class CountLine(models.Model):
    """An instrument of the count's school and rooms, and where the register had it when the count was opened."""

    count = models.ForeignKey(Count, models.PROTECT, related_name="lines")
    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="+")
    room = models.ForeignKey(Room, models.PROTECT, null=True, blank=True, related_name="+")
    whereabouts = models.CharField(max_length=16, choices=Whereabouts)
    outcome = models.CharField(max_length=16, blank=True)  # once signed, of what was not seen

    objects = CountRowsQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["count", "instrument"], name="count_line_once")]

    def __str__(self) -> str:
        return f"line {self.pk} of count {self.count_id}"


class SightingQuerySet(SchoolRowsQuerySet["Sighting"]):
    way_to_school = "count__school"
    view_permission = "inventory.view_count"

    def standing(self) -> Self:
        return self.filter(undone_at=None)


class Sighting(models.Model):
    """One instrument, or one number that nobody knows, seen in a count. Seen twice, it is one sighting."""

    count = models.ForeignKey(Count, models.PROTECT, related_name="sightings")
    round = models.PositiveSmallIntegerField(default=1)
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="sightings")
    text = models.CharField(max_length=120)  # as scanned or typed
    is_typed = models.BooleanField(default=True)
    room = models.ForeignKey(Room, models.PROTECT, null=True, blank=True, related_name="+")
    outcome = models.CharField(max_length=16)
    seen_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)  # taken back, or counted again

    objects = SightingQuerySet.as_manager()

    class Meta:
        ordering = ["-seen_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["count", "instrument"],
                condition=Q(undone_at=None, instrument__isnull=False),
                name="sighting_once",
            ),
            models.UniqueConstraint(
                "count",
                Lower("text"),
                condition=Q(undone_at=None, instrument=None),
                name="sighting_unknown_once",
            ),
        ]
        indexes = [models.Index(fields=["count", "undone_at", "outcome"], name="sighting_outcome")]

    def __str__(self) -> str:
        return f"sighting {self.pk} in count {self.count_id}"


class DifferenceQuerySet(SchoolRowsQuerySet["CountDifference"]):
    way_to_school = "count__school"
    view_permission = "inventory.view_count"


class CountDifference(models.Model):
    """How one difference was settled when the count was signed."""

    count = models.ForeignKey(Count, models.PROTECT, related_name="differences")
    line = models.OneToOneField(CountLine, models.PROTECT, null=True, blank=True, related_name="difference")
    sighting = models.OneToOneField(Sighting, models.PROTECT, null=True, blank=True, related_name="difference")
    reason = models.CharField(max_length=20)
    note = models.CharField(max_length=200, blank=True)

    objects = DifferenceQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(line__isnull=False, sighting=None) | Q(line=None, sighting__isnull=False),
                name="count_difference_of_one",
            )
        ]

    def __str__(self) -> str:
        return f"difference {self.pk} of count {self.count_id}"
