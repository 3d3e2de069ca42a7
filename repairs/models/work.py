"""Benches, jobs, and every try at putting something right. Plans are computed, never stored."""

from __future__ import annotations

from decimal import Decimal
from typing import Self

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Case, Count, F, Q, When
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.catalog.figures import BENCH_RATE
from inventory.catalog.load import catalog
from inventory.models import Instrument, Photo, PlayTest, School, SchoolRowsQuerySet
from repairs.rules.facts import AttemptFact, BenchFact, Outcome

# What follows benches/ and stock/ in addresses and is no bench: no new bench has such a code.
WORDS_OF_ADDRESSES = frozenset({"add", "item", "parts-horns"})


class BenchQuerySet(SchoolRowsQuerySet["Bench"]):
    way_to_school = "school"
    view_permission = "repairs.view_bench"

    def in_use(self) -> Self:
        return self.filter(retired_at=None)

    def near(self, school: int) -> Self:
        """Those of the school first."""
        own = Case(When(school=school, then=0), default=1, output_field=models.IntegerField())
        return self.order_by(own, "name", "pk")

    def with_open_jobs(self) -> Self:
        """Annotate ``jobs_open``, how many jobs are open at each; the school comes along."""
        jobs_open = Count("jobs", filter=Q(jobs__closed_at=None))
        return (
            self.select_related("school")
            .annotate(jobs_open=jobs_open)
            .order_by(F("retired_at").asc(nulls_first=True), "school__name", "name", "pk")
        )


class Bench(models.Model):
    """A workplace: its tools, what its people are trained for, what it is allowed to do, what an hour costs.

    Without a rate of its own it goes by the district's, from the day on that each value holds.
    """

    school = models.ForeignKey(School, models.PROTECT, related_name="benches")
    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    tools = models.JSONField(default=list, blank=True)  # tool codes of the catalog
    methods = models.JSONField(default=list, blank=True)  # beyond the basic ones, that somebody is trained for
    has_torch = models.BooleanField("torch allowed", default=False)
    has_chemicals = models.BooleanField("chemicals allowed", default=False)
    rate_amount = models.DecimalField(  # none: what an hour costs in the district
        max_digits=6, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )

    retired_at = models.DateTimeField(null=True, editable=False)
    retired_by = models.ForeignKey(User, models.PROTECT, null=True, editable=False, related_name="+")

    objects = BenchQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "benches"
        constraints = [
            models.CheckConstraint(
                condition=Q(retired_at=None, retired_by=None) | Q(retired_at__isnull=False, retired_by__isnull=False),
                name="bench_retired_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def rate(self) -> Decimal:
        """What an hour costs here now: its own rate, else the district's."""
        return catalog().settings[BENCH_RATE] if self.rate_amount is None else self.rate_amount

    @property
    def fact(self) -> BenchFact:
        return BenchFact(
            code=self.code,
            tools=frozenset(self.tools),
            methods=frozenset(self.methods),
            has_torch=self.has_torch,
            has_chemicals=self.has_chemicals,
            rate_amount=self.rate,
        )


class JobQuerySet(SchoolRowsQuerySet["Job"]):
    view_permission = "repairs.view_job"

    def open(self) -> Self:
        return self.filter(closed_at=None)

    def first_due(self) -> Self:
        """Order as a bench works: due soonest first, those without a day last."""
        return self.order_by(F("due_on").asc(nulls_last=True), "opened_at", "pk")

    def for_table(self) -> Self:
        return self.select_related("instrument", "instrument__school", "bench")


class Job(models.Model):
    """A repair job on one instrument, from opening to the play test that closes it."""

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="jobs")
    bench = models.ForeignKey(Bench, models.PROTECT, related_name="jobs")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    because = models.CharField(max_length=200, blank=True)
    due_on = models.DateField(null=True, blank=True)
    retry_keys = models.JSONField(default=list, blank=True)  # tried rungs asked for once more
    # By step key: tries that did not work, before the next way is due.
    step_tries = models.JSONField(default=dict, blank=True)
    decision = models.ForeignKey(  # to repair it, that this job carries out
        "repairs.WorthDecision", models.PROTECT, null=True, blank=True, related_name="jobs"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    play_test = models.OneToOneField(PlayTest, models.PROTECT, null=True, blank=True, related_name="job")
    ended_because = models.CharField(max_length=200, blank=True)  # given up, without a play test

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["opened_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["instrument"], condition=Q(closed_at=None), name="job_one_open"),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(play_test__isnull=False) | ~Q(ended_because=""),
                name="job_closes_by_play_test_or_reason",
            ),
        ]
        indexes = [
            models.Index(fields=["-closed_at", "-id"], name="job_closed"),
            models.Index(fields=["due_on", "opened_at", "id"], condition=Q(closed_at=None), name="job_open"),
        ]

    def __str__(self) -> str:
        return f"job {self.pk} on {self.instrument_id}"


class CautionReadQuerySet(models.QuerySet["CautionRead"]):
    def texts(self) -> frozenset[tuple[str, str]]:
        """Hazard and version of each text that was read."""
        return frozenset(self.values_list("hazard", "version"))


class CautionRead(models.Model):
    """Somebody has read one caution of a job, as it was worded then, and is trained for such work."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="cautions_read")
    hazard = models.CharField(max_length=40)  # "": acknowledged before version 0.8, when nobody kept which
    version = models.CharField(max_length=12)
    text = models.TextField()  # what was shown
    at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")

    objects = CautionReadQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["job", "hazard", "version", "actor"], name="caution_read_once"),
        ]

    def __str__(self) -> str:
        return f"{self.hazard} in job {self.job_id}"


OUTCOME_LABELS = {
    Outcome.DONE: _("Done"),
    Outcome.FREED: _("Freed"),
    Outcome.STILL_STUCK: _("Still stuck"),
    Outcome.NOT_RIGHT: _("Done, but not right yet"),
    Outcome.STOPPED: _("Stopped"),
    Outcome.DAMAGED: _("Part damaged"),
    Outcome.SKIPPED: _("Left out"),
}


class AttemptQuerySet(models.QuerySet["Attempt"]):
    def facts(self) -> tuple[AttemptFact, ...]:
        return tuple(attempt.fact for attempt in self)


class Attempt(models.Model):
    """One try at one step, with its outcome. The nonce makes a form posted twice one attempt."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="attempts")
    nonce = models.UUIDField(unique=True)
    step_key = models.CharField(max_length=160)
    method = models.CharField(max_length=40)
    rung = models.CharField(max_length=60, blank=True)
    part = models.CharField(max_length=60, blank=True)
    place = models.CharField(max_length=40, blank=True)
    findings = models.JSONField(default=list, blank=True)  # finding ids the step was for
    outcome = models.CharField(max_length=12, choices=OUTCOME_LABELS)
    is_after_all = models.BooleanField(default=False)  # a way given up freed the part after all: no new try
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField()
    minutes = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)  # by the clock or as typed
    estimated_minutes = models.DecimalField(  # as planned, where nobody timed it; nothing is learned from these
        max_digits=6, decimal_places=1, null=True, blank=True
    )
    parts_used = models.JSONField(default=list, blank=True)  # [{"code", "quantity", "amount"}]
    parts_amount = models.DecimalField(max_digits=8, decimal_places=2, default=0)
    note = models.TextField(blank=True, max_length=4000)
    photo = models.ForeignKey(Photo, models.SET_NULL, null=True, blank=True, related_name="+")
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")

    objects = AttemptQuerySet.as_manager()

    class Meta:
        ordering = ["ended_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(started_at__isnull=True) | Q(ended_at__gte=F("started_at")), name="attempt_ends_after_start"
            ),
        ]
        indexes = [
            models.Index(fields=["method", "rung"], name="attempt_method"),
            models.Index(fields=["-ended_at"], name="attempt_latest"),
        ]

    def __str__(self) -> str:
        return f"{self.step_key}: {self.outcome}"

    @property
    def fact(self) -> AttemptFact:
        return AttemptFact(
            step_key=self.step_key,
            method=self.method,
            rung=self.rung,
            part=self.part,
            place=self.place,
            outcome=Outcome(self.outcome),
            minutes=None if self.minutes is None else float(self.minutes),
        )


class StepClock(models.Model):
    """A step that somebody has started and not ended yet. While it soaks or dries, both waiting moments are set.

    A job may have several: while one part soaks, another is worked on.
    """

    job = models.ForeignKey(Job, models.CASCADE, related_name="clocks")
    step_key = models.CharField(max_length=160)
    started_at = models.DateTimeField()
    waiting_since = models.DateTimeField(null=True, blank=True)  # the attended work is done
    waits_until = models.DateTimeField(null=True, blank=True)
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["started_at", "pk"]
        constraints = [models.UniqueConstraint(fields=["job", "step_key"], name="clock_one_a_step")]

    def __str__(self) -> str:
        return f"{self.step_key} since {self.started_at:%H:%M}"
