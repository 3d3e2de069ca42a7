"""Inspections with their findings, play tests, and reports from the public."""

from __future__ import annotations

from datetime import datetime
from typing import Self

from django.core.validators import MaxLengthValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop

from core.models import User
from inventory.catalog.schema import Severity
from inventory.models.instruments import Instrument
from inventory.models.places import SchoolRowsQuerySet
from inventory.rules.facts import FindingFact


class Purpose(models.TextChoices):
    INTAKE = "intake", _("On arrival")
    HAND_OUT = "hand_out", _("Hand-out")
    RETURN = "return", _("Return")
    BENCH = "bench", _("On the bench")
    YEARLY = "yearly", _("Yearly")
    SPOT = "spot", _("Spot check")
    PART = "part", _("Part taken")  # recorded by taking a part off or putting it back: nobody looked at the rest


SEVERITY_WORDS = (gettext_noop("light"), gettext_noop("moderate"), gettext_noop("severe"))  # within a line
SEVERITY_LABELS = {Severity.LIGHT: _("Light"), Severity.MODERATE: _("Moderate"), Severity.SEVERE: _("Severe")}


class Unsafe(models.TextChoices):
    """What makes an instrument unsafe to handle."""

    MOLD = "mold", _("Mold or strong smell")
    SHARP = "sharp", _("Sharp edge or torn metal")
    LEAD = "lead", _("Lead, or dust that may be lead")
    OTHER = "other", _("Something else")


class InspectionQuerySet(SchoolRowsQuerySet["Inspection"]):
    def finished(self) -> Self:
        return self.filter(finished_at__isnull=False)

    def drafts(self) -> Self:
        return self.filter(finished_at=None, dropped_at=None)


class Inspection(models.Model):
    """A dated walk over the parts. A draft until finished; every tap is saved at once."""

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="inspections")
    purpose = models.CharField(max_length=16, choices=Purpose)
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    dropped_at = models.DateTimeField(null=True, blank=True)
    is_safe = models.BooleanField(null=True, blank=True)  # safe to handle; None: not asked yet
    unsafe_code = models.CharField(max_length=8, choices=Unsafe, blank=True)
    unsafe_because = models.CharField(max_length=200, blank=True)  # the same in words, with what somebody added
    compared_with = models.ForeignKey("self", models.SET_NULL, null=True, blank=True, related_name="+")
    accessory_counts = models.JSONField(default=dict, blank=True)  # accessory code -> number present
    verdict = models.CharField(max_length=20, blank=True)  # as judged when finished, for the history
    note = models.TextField(blank=True, max_length=4000)
    # The kind that the instrument was wrongly entered as, where that has other parts: it says nothing of this kind's.
    under_kind = models.CharField(max_length=40, blank=True, default="", db_default="")

    objects = InspectionQuerySet.as_manager()

    class Meta:
        ordering = ["-started_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["instrument", "purpose"],
                condition=Q(finished_at=None, dropped_at=None),
                name="inspection_one_draft_a_purpose",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_purpose_display()} {self.started_at:%Y-%m-%d}"

    @property
    def is_draft(self) -> bool:
        return self.finished_at is None and self.dropped_at is None


class PartLook(models.Model):
    """A part that was checked in an inspection and found fine (faults are findings)."""

    inspection = models.ForeignKey(Inspection, models.CASCADE, related_name="looks")
    part = models.CharField(max_length=60)
    looked_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["inspection", "part"], name="part_look_once")]

    def __str__(self) -> str:
        return self.part


class Closed(models.TextChoices):
    REPAIRED = "repaired", _("Repaired")
    NOT_SEEN = "not_seen", _("No longer seen")
    SEEN_AGAIN = "seen_again", _("Seen again in a later inspection")
    PUT_BACK = "put_back", _("The part is back on")
    WITHDRAWN = "withdrawn", _("Entered by mistake")
    OTHER_KIND = "other_kind", _("Its part belongs to the kind it was entered as")


class FindingQuerySet(models.QuerySet["Finding"]):
    def standing(self) -> Self:
        """Open findings of finished inspections: the state the instrument is in."""
        return self.filter(inspection__finished_at__isnull=False, closed_at=None)

    def open_at(self, at: datetime) -> Self:
        """Return those not yet closed at that moment: repaired or removed later, or still open."""
        return self.exclude(closed_at__lte=at)

    def facts(self) -> tuple[FindingFact, ...]:
        return tuple(finding.fact for finding in self)


class Finding(models.Model):
    """One fault at one part (and place), with a severity, in one inspection."""

    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="findings")
    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="findings")
    part = models.CharField(max_length=60)
    place = models.CharField(max_length=40, blank=True)
    fault = models.CharField(max_length=40)
    severity = models.CharField(max_length=12, choices=SEVERITY_LABELS)
    detail = models.CharField(max_length=40, blank=True)  # "up", "down", "position 4"
    note = models.TextField(blank=True, validators=[MaxLengthValidator(10_000)])
    found_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_because = models.CharField(max_length=16, choices=Closed, blank=True)
    closed_reference = models.CharField(max_length=60, blank=True)  # "attempt:31", "inspection:9"

    objects = FindingQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["inspection", "part", "place", "fault"], name="finding_once"),
        ]
        indexes = [models.Index(fields=["instrument", "closed_at"], name="finding_standing")]

    def __str__(self) -> str:
        return f"{self.part} {self.fault} ({self.severity})"

    @property
    def fact(self) -> FindingFact:
        return FindingFact(
            part=self.part,
            fault=self.fault,
            severity=Severity(self.severity),
            place=self.place,
            detail=self.detail,
            key=str(self.pk),
        )


class ListRemarkQuerySet(SchoolRowsQuerySet["ListRemark"]):
    def unread(self, *, since: datetime | None) -> Self:
        """Return those that no inspection has followed; ``since`` is when the instrument was last inspected."""
        return self if since is None else self.filter(said_at__gt=since)


class ListRemark(models.Model):
    """What a list said of an instrument's condition when it was imported: for the inspector, no finding by itself."""

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="list_remarks")
    said_at = models.DateTimeField()
    text = models.TextField(validators=[MaxLengthValidator(400)])

    objects = ListRemarkQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"remark of {self.said_at:%Y-%m-%d}"


class PlayTestQuerySet(SchoolRowsQuerySet["PlayTest"]):
    pass


class PlayTest(models.Model):
    """Somebody played it. It closes a repair job; 'limits' and 'fail' stand until a later test."""

    class Result(models.TextChoices):
        PASS = "pass", _("Pass")
        LIMITS = "limits", _("Pass with limits")
        FAIL = "fail", _("Fail")

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="play_tests")
    played_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    tester_plays = models.CharField(max_length=60, blank=True)  # the tester's main instrument
    played_with = models.CharField(max_length=120, blank=True)  # mouthpiece and reed
    is_second_opinion = models.BooleanField(default=False)
    result = models.CharField(max_length=8, choices=Result)
    limits_text = models.CharField(max_length=400, blank=True)
    failed_notes = models.JSONField(default=list, blank=True)  # written names
    weak_notes = models.JSONField(default=list, blank=True)
    tried_notes = models.JSONField(default=list, blank=True)  # those played; empty: not recorded, so all of the range
    measures = models.JSONField(default=list, blank=True)  # [{"written", "cents", "spread", "tries", "spoke"}]
    room_celsius = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    tuning_cents = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    is_tuned_first = models.BooleanField(default=False)  # the room then says nothing about its cents
    slide_mm = models.DecimalField(
        max_digits=4, decimal_places=1, null=True, blank=True
    )  # how far out: main slide, barrel
    note = models.TextField(blank=True, max_length=4000)

    objects = PlayTestQuerySet.as_manager()

    class Meta:
        ordering = ["-played_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(result="limits") | ~Q(limits_text=""), name="play_test_limits_have_text"
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_result_display()} {self.played_at:%Y-%m-%d}"


class ProblemReportQuerySet(SchoolRowsQuerySet["ProblemReport"]):
    def unanswered(self) -> Self:
        return self.filter(closed_at=None)

    def unconfirmed(self) -> Self:
        """Return those that are a notice so far: nobody of the staff has looked."""
        return self.unanswered().filter(confirmed_at=None)

    def confirmed(self) -> Self:
        """Return those that keep their instrument in."""
        return self.unanswered().exclude(confirmed_at=None)


class ProblemReport(models.Model):
    """A problem reported by somebody who scanned the tag, or by staff. Nobody has to give a name.

    Anybody can write one, so it is a notice until somebody of the staff confirms it: only then does it keep its
    instrument in.
    """

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="problem_reports")
    said_at = models.DateTimeField()
    text = models.TextField(validators=[MaxLengthValidator(2000)])
    source = models.CharField(max_length=64, blank=True)  # a salted hash of the sender's network, for rate limits only
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    answer = models.CharField(max_length=400, blank=True)

    objects = ProblemReportQuerySet.as_manager()

    class Meta:
        ordering = ["-said_at", "-pk"]
        indexes = [
            models.Index(fields=["source", "said_at"], name="report_source"),
            models.Index(fields=["-said_at", "-id"], condition=Q(closed_at=None), name="report_unanswered"),
        ]

    def __str__(self) -> str:
        return f"report of {self.said_at:%Y-%m-%d}"
