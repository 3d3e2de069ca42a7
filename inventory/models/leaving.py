"""Instruments that left the fleet, those offered to another school, and the papers kept of either."""

from __future__ import annotations

from typing import Any, Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from core.models import User
from inventory.models.instruments import Custody, Instrument
from inventory.models.places import School, SchoolRowsQuerySet, school_keys
from inventory.rules.leaving import Way

NOT_NEGATIVE = [MinValueValidator(0)]


class DisposalQuerySet(SchoolRowsQuerySet["Disposal"]):
    def standing(self) -> Self:
        """Return those whose instruments are still gone."""
        return self.filter(ended_at=None)

    def counted(self) -> Self:
        """Return those of instruments that were the district's: not what was entered in error."""
        return self.exclude(way=Way.ERROR)

    def after(self, last: Disposal) -> Self:
        """Return those that come after this one, latest first."""
        return self.filter(Q(on__lt=last.on) | Q(on=last.on, pk__lt=last.pk)).order_by("-on", "-pk")

    def for_table(self) -> Self:
        return self.select_related("instrument__school", "approved_by", "actor")


class Disposal(models.Model):
    """An instrument that left the fleet: how, when, for what, and who approved it.

    It ends when the instrument is back, or when the entry was wrong (``was_wrong``): then it never left.
    """

    class Ways(models.TextChoices):
        SOLD = Way.SOLD, _("Sold")
        TRADED_IN = Way.TRADED_IN, _("Traded in")
        GIVEN_AWAY = Way.GIVEN_AWAY, _("Given away")
        SCRAPPED = Way.SCRAPPED, _("Scrapped")
        RETIRED = Way.RETIRED, _("Retired to surplus or display")
        STOLEN = Way.STOLEN, _("Stolen, written off")
        LOST = Way.LOST, _("Lost, written off")
        ERROR = Way.ERROR, _("Entered in error")

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="disposals")
    custody = models.OneToOneField(Custody, models.PROTECT, related_name="disposal")
    way = models.CharField(max_length=16, choices=Ways)
    on = models.DateField()
    because = models.CharField(max_length=400)
    recipient = models.CharField(max_length=120, blank=True)  # who has it now
    proceeds_amount = models.DecimalField(
        max_digits=10, decimal_places=2, null=True, blank=True, validators=NOT_NEGATIVE
    )
    value_amount = models.DecimalField(max_digits=10, decimal_places=2, validators=NOT_NEGATIVE)  # as it was, that day
    market_amount = models.DecimalField(
        max_digits=10, decimal_places=2, null=True, blank=True, validators=NOT_NEGATIVE
    )  # fair market value, asked where a federal award paid for it
    federal_percent = models.DecimalField(
        max_digits=5, decimal_places=2, null=True, blank=True, validators=[*NOT_NEGATIVE, MaxValueValidator(100)]
    )
    threshold_amount = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)  # that counted
    share_amount = models.DecimalField(
        max_digits=10, decimal_places=2, null=True, blank=True
    )  # owed to the awarding agency
    approved_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    is_confirmed = models.BooleanField(default=False)  # the approver typed their own password
    # What was found out about a loss or theft, where no case of a family's loan has it.
    findings = models.TextField(blank=True, max_length=4000)
    police_agency = models.CharField(max_length=80, blank=True)
    police_number = models.CharField(max_length=40, blank=True)
    insurer = models.CharField(max_length=80, blank=True)
    claim_number = models.CharField(max_length=40, blank=True)
    agency_notified_on = models.DateField(null=True, blank=True)  # the awarding agency
    recorded_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    ended_because = models.CharField(max_length=400, blank=True)
    back_on = models.DateField(null=True, blank=True)
    was_wrong = models.BooleanField(default=False)

    objects = DisposalQuerySet.as_manager()

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["instrument"], condition=Q(ended_at=None), name="disposal_one_standing"),
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_by=None, back_on=None, was_wrong=False)
                | Q(ended_at__isnull=False, ended_by__isnull=False),
                name="disposal_ended_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_way_display()} {self.on:%Y-%m-%d}"

    @property
    def how_and_when(self) -> str:
        return f"{self.get_way_display()}, {full_day(self.on)}."


class TransferQuerySet(SchoolRowsQuerySet["Transfer"]):
    way_to_school = "from_school"

    def open(self) -> Self:
        return self.filter(settled_at=None)

    def coming_to(self, user: Any, permission: str) -> Self:
        """Return those offered to schools where the user holds the permission."""
        keys = school_keys(user, permission)
        return self.all() if keys is None else self.filter(to_school__in=keys)


class Transfer(models.Model):
    """An instrument that one school gives to another: it moves when somebody there agrees."""

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="transfers")
    from_school = models.ForeignKey(School, models.PROTECT, related_name="+")
    to_school = models.ForeignKey(School, models.PROTECT, related_name="+")
    accessories = models.JSONField(default=dict, blank=True)  # code -> how many go along
    because = models.CharField(max_length=400, blank=True)
    offered_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    is_agreed = models.BooleanField(default=False)
    settled_note = models.CharField(max_length=200, blank=True)

    objects = TransferQuerySet.as_manager()

    class Meta:
        ordering = ["-offered_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["instrument"], condition=Q(settled_at=None), name="transfer_one_open"),
            models.CheckConstraint(
                condition=Q(settled_at=None, settled_by=None, is_agreed=False)
                | Q(settled_at__isnull=False, settled_by__isnull=False),
                name="transfer_settled_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"transfer {self.pk}"


class InstrumentPaperQuerySet(SchoolRowsQuerySet["InstrumentPaper"]):
    def standing(self) -> Self:
        return self.filter(withdrawn_at=None)


class InstrumentPaper(models.Model):
    """A scan kept with an instrument: a bill of sale, a receipt, an invoice, a police report.

    One that was filed by mistake is withdrawn: it is no longer opened, and that it was there stays.
    """

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="papers")
    disposal = models.ForeignKey(Disposal, models.PROTECT, null=True, blank=True, related_name="papers")
    title = models.CharField(max_length=80)
    file = models.FileField(upload_to="papers/%Y/")
    sha256 = models.CharField(max_length=64)
    kept_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_because = models.CharField(max_length=200, blank=True)

    objects = InstrumentPaperQuerySet.as_manager()

    class Meta:
        ordering = ["-kept_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(withdrawn_at=None, withdrawn_by=None)
                | Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
                name="paper_withdrawn_by_somebody",
            )
        ]

    def __str__(self) -> str:
        return self.title
