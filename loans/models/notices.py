"""What families were told about a loan, and by which way."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.models import ProblemReport, SchoolRowsQuerySet
from loans.models.lending import Loan
from loans.models.people import Guardian
from loans.rules.notices import DUE_SOON, OVERDUE, SIGNATURE

LIVE = Q(dropped_at=None) & (Q(came_back_at=None) | Q(way="letter"))


class NoticeQuerySet(SchoolRowsQuerySet["Notice"]):
    way_to_school = "loan__school"
    view_permission = "loans.send_notice"

    def waiting(self) -> Self:
        """Those not handed over yet, and still to be."""
        return self.filter(handed_at=None, came_back_at=None, dropped_at=None)

    def live(self) -> Self:
        """Those that need not be sent again: all but what was left unsent, and mail that came back."""
        return self.filter(LIVE)

    def to_mail(self) -> Self:
        return self.waiting().filter(way=Notice.Way.EMAIL)

    def to_print(self) -> Self:
        return self.waiting().filter(way=Notice.Way.LETTER)

    def for_saying(self) -> Self:
        """Joined with all that a notice may say."""
        return self.select_related("guardian", "report", "loan__instrument", "loan__school", "loan__student")


class Notice(models.Model):
    """One notice to a family about a loan, sent once: by e-mail, or by a letter on paper.

    It waits until it is handed over: the mail server took it, or it was printed. One that is no longer true by then
    is dropped; one that came back was not told, so the same may be told again another way. Neither name nor address is
    kept here: the guardian's row has them.
    """

    class Sort(models.TextChoices):
        DUE_SOON = DUE_SOON, _("Due soon")
        OVERDUE = OVERDUE, _("Overdue")
        SIGNATURE = SIGNATURE, _("Agreement to sign")
        REPORT = "report", _("Problem reported")

    class Way(models.TextChoices):
        EMAIL = "email", _("E-mail")
        LETTER = "letter", _("Letter")

    loan = models.ForeignKey(Loan, models.PROTECT, related_name="notices")
    guardian = models.ForeignKey(Guardian, models.PROTECT, null=True, blank=True, related_name="notices")
    sort = models.CharField(max_length=10, choices=Sort)
    way = models.CharField(max_length=6, choices=Way)
    about_on = models.DateField()  # the due date, the day it went out, the day of the report
    round = models.PositiveSmallIntegerField(default=1)
    report = models.ForeignKey(ProblemReport, models.PROTECT, null=True, blank=True, related_name="notices")
    facts = models.JSONField(default=dict, blank=True)  # of a report: the day to bring it, the number of a spare
    made_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")  # None: the nightly run
    handed_at = models.DateTimeField(null=True, blank=True)
    came_back_at = models.DateTimeField(null=True, blank=True)
    came_back_to = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")  # None: refused
    dropped_at = models.DateTimeField(null=True, blank=True)

    objects = NoticeQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["loan", "sort", "about_on", "round"],
                condition=LIVE & Q(report=None),
                name="notice_once",
            ),
            models.UniqueConstraint(
                fields=["loan", "report"],
                condition=LIVE & Q(report__isnull=False),
                name="notice_of_report_once",
            ),
            models.CheckConstraint(
                condition=Q(sort="report", report__isnull=False) | (~Q(sort="report") & Q(report=None)),
                name="notice_of_report_has_one",
            ),
            models.CheckConstraint(
                condition=Q(dropped_at=None) | Q(handed_at=None, came_back_at=None), name="notice_ends_one_way"
            ),
        ]
        indexes = [
            models.Index(
                fields=["way", "loan"],
                condition=Q(handed_at=None, came_back_at=None, dropped_at=None),
                name="notice_waiting",
            ),
        ]

    def __str__(self) -> str:
        return f"notice {self.pk}"

    @property
    def is_waiting(self) -> bool:
        return self.handed_at is None and self.came_back_at is None and self.dropped_at is None
