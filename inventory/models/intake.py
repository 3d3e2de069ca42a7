"""Staging for spreadsheets: nothing here is an instrument until the batch is published."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.models.places import School, SchoolRowsQuerySet


class ImportBatchQuerySet(SchoolRowsQuerySet["ImportBatch"]):
    way_to_school = "school"
    view_permission = "inventory.import_instruments"


class ImportBatch(models.Model):
    class State(models.TextChoices):
        RECEIVED = "received", _("Received")  # a large workbook whose rows are not read yet
        READING = "reading", _("Reading")
        JUDGED = "judged", _("Ready to confirm")
        PUBLISHED = "published", _("Published")
        DROPPED = "dropped", _("Dropped")

    school = models.ForeignKey(School, models.PROTECT, related_name="import_batches")
    actor = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    filename = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    file = models.FileField(upload_to="imports/%Y/", blank=True)  # as sent; once read, the rows, one a line
    worksheet = models.CharField(max_length=60, blank=True)  # of a workbook that is not read yet
    begun_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=State, default=State.READING)
    header = models.JSONField(default=list)
    mapping = models.JSONField(default=dict)  # column index -> field; empty until somebody confirmed it
    # What somebody said of the list: {"kinds": {word: code}, "orders": {column: order}, "rows": {row: {column: text}}}
    answers = models.JSONField(default=dict, blank=True)
    # What is to be asked, and what its dates show: {"kinds": {word: rows}, "orders": {column: {order, row, text}}}
    asked = models.JSONField(default=dict, blank=True)
    may_cross_schools = models.BooleanField(default=False)  # its sender may import for more than this school
    lines_total = models.PositiveIntegerField(default=0)  # as the workbook says, before its rows are counted
    rows_total = models.PositiveIntegerField(default=0)
    rows_judged = models.PositiveIntegerField(default=0)
    rows_new = models.PositiveIntegerField(default=0)
    rows_known = models.PositiveIntegerField(default=0)
    rows_problem = models.PositiveIntegerField(default=0)
    rows_skipped = models.PositiveIntegerField(default=0, db_default=0)
    published_at = models.DateTimeField(null=True, blank=True)
    # What whoever confirmed it vouched for: that all of it may go out for a time, and that it was cleaned.
    trusted_until = models.DateField(null=True, blank=True)
    cleaned_on = models.DateField(null=True, blank=True)
    cleaned_by = models.CharField(max_length=120, blank=True, db_default="")

    objects = ImportBatchQuerySet.as_manager()

    class Meta:
        ordering = ["-begun_at", "-pk"]

    def __str__(self) -> str:
        return self.filename


class ImportRow(models.Model):
    class State(models.TextChoices):
        NEW = "new", _("New")
        KNOWN = "known", _("Already here")
        PROBLEM = "problem", _("Problem")
        SKIPPED = "skipped", _("Skipped")  # a sum or a heading

    batch = models.ForeignKey(ImportBatch, models.CASCADE, related_name="rows")
    number = models.PositiveIntegerField()  # as in the file
    state = models.CharField(max_length=8, choices=State)
    column = models.CharField(max_length=120, blank=True)
    reason = models.CharField(max_length=400, blank=True)
    cells = models.JSONField(default=list)
    values = models.JSONField(default=dict)
    remarks = models.JSONField(default=dict)  # {"notes": [text], "problems": [[column, reason]], "match": asset number}
    fingerprint = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["batch", "number"], name="import_row_once")]
        indexes = [models.Index(fields=["batch", "state"], name="import_row_state")]

    def __str__(self) -> str:
        return f"row {self.number}"


class ColumnMemory(models.Model):
    """What a column name meant the last time a school confirmed it."""

    school = models.ForeignKey(School, models.CASCADE, related_name="+")
    heading = models.CharField(max_length=120)
    field = models.CharField(max_length=40)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["school", "heading"], name="column_memory_once")]

    def __str__(self) -> str:
        return f"{self.heading} → {self.field}"
