"""What was decided about an instrument that is not in playing condition, with the figures of that day."""

from __future__ import annotations

from datetime import datetime
from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.models import Instrument, SchoolRowsQuerySet
from repairs.rules.worth import Answer

ANSWER_LABELS = {
    Answer.REPAIR_HERE: _("Repair here"),
    Answer.SEND_OUT: _("Send out"),
    Answer.KEEP_FOR_PARTS: _("Keep for parts"),
    Answer.RETIRE: _("Retire"),
}


GIVES_UP = (Answer.KEEP_FOR_PARTS, Answer.RETIRE)
SPENDS = (Answer.REPAIR_HERE, Answer.SEND_OUT)


class WorthDecisionQuerySet(SchoolRowsQuerySet["WorthDecision"]):
    view_permission = "repairs.view_worth"

    def waiting(self) -> Self:
        """What waits for somebody who may approve it; a later decision takes its place."""
        return self.newest().filter(is_approval_needed=True, settled_at=None)

    def newest(self) -> Self:
        """Of each instrument the one that nothing newer has replaced."""
        newer = WorthDecision.objects.filter(instrument=models.OuterRef("instrument"), pk__gt=models.OuterRef("pk"))
        return self.exclude(models.Exists(newer))

    def in_force(self) -> Self:
        """Those that hold, and refusals to spend: what waits says nothing yet, what was to be given up stays."""
        holds = Q(is_approval_needed=False) | Q(is_approved=True)
        return self.filter(holds | Q(is_approved=False, answer__in=SPENDS))

    def answers_for(self, person: User) -> Self:
        """What this person asked and somebody else answered, until they have read it, acted on it or decided again."""
        answered = self.newest().filter(decided_by=person, settled_at__isnull=False, answer_read_at=None)
        return answered.filter(Q(is_approved=False) | Q(jobs=None, orders=None)).exclude(settled_by=person)


class WorthDecision(models.Model):
    """An answer that somebody gave, with what the arithmetic said of it. Never changed, only approved or refused."""

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="worth_decisions")
    nonce = models.UUIDField(unique=True)
    answer = models.CharField(max_length=16, choices=ANSWER_LABELS)
    advised = models.CharField(max_length=16, choices=ANSWER_LABELS)  # what the arithmetic said
    because = models.CharField(max_length=400, blank=True)
    cost_p50_amount = models.DecimalField(max_digits=9, decimal_places=2)
    cost_p80_amount = models.DecimalField(max_digits=9, decimal_places=2)
    value_amount = models.DecimalField(max_digits=9, decimal_places=2)
    is_student_waiting = models.BooleanField(default=False)
    lines = models.JSONField(default=list, blank=True)  # [[label, amount, words]] of that day
    rules = models.JSONField(default=list, blank=True)  # [[code, says repair, words]]
    is_approval_needed = models.BooleanField(default=False)
    approval_because = models.CharField(max_length=200, blank=True)
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    is_approved = models.BooleanField(null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    settled_note = models.CharField(max_length=200, blank=True)
    answer_read_at = models.DateTimeField(null=True, blank=True)  # by whoever decided, once somebody else settled it

    objects = WorthDecisionQuerySet.as_manager()

    class Meta:
        ordering = ["-decided_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(settled_at__isnull=True, is_approved__isnull=True, settled_by__isnull=True)
                | Q(settled_at__isnull=False, is_approved__isnull=False, settled_by__isnull=False),
                name="worth_settled_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_answer_display()}: {self.instrument_id}"

    @property
    def holds(self) -> bool:
        """Whether it may be acted on."""
        return not self.is_approval_needed or bool(self.is_approved)

    @property
    def is_waiting(self) -> bool:
        return self.is_approval_needed and self.settled_at is None

    @property
    def is_refused(self) -> bool:
        return self.is_approved is False

    def is_lifted_by(self, approved_at: datetime | None) -> bool:
        """Whether an approval of the work's own cost was given after it, which counts like a newer decision."""
        return approved_at is not None and self.settled_at is not None and approved_at > self.settled_at

    @property
    def rules_broken(self) -> list[str]:
        """The rules of thumb that spoke against a repair that day, each in words."""
        return [words for _code, says_repair, words in self.rules if not says_repair]

    @property
    def spends(self) -> bool:
        """Whether it is to cost money, rather than to give the instrument up."""
        return self.answer in SPENDS
