"""Loans, the terms, and the signed agreement."""

from __future__ import annotations

import hashlib
import json
from datetime import date
from typing import Any, Self

from django.db import models
from django.db.models import Exists, F, OuterRef, Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.models import Inspection, Instrument, School, SchoolRowsQuerySet
from loans.models.people import Student
from loans.rules.terms import ENGLISH, SPANISH


class AgreementTerms(models.Model):
    """The terms a family signs, in one language. A change makes a new version; signed papers keep theirs."""

    class Language(models.TextChoices):
        ENGLISH = ENGLISH, _("English")
        SPANISH = SPANISH, _("Spanish")

    text = models.TextField(max_length=20_000)
    language = models.CharField(max_length=2, choices=Language, default=Language.ENGLISH)
    version = models.PositiveIntegerField()
    written_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-version"]
        verbose_name_plural = _("agreement terms")
        constraints = [models.UniqueConstraint(fields=["language", "version"], name="terms_version_once")]

    def __str__(self) -> str:
        return gettext("terms %(version)d") % {"version": self.version}

    @property
    def key(self) -> str:
        """Return what names version and language in a form: "3", or "es-3"."""
        return f"{self.version}" if self.language == ENGLISH else f"{self.language}-{self.version}"


def open_loans_by(way: str = "") -> Q:
    """Return what is true of an open loan; ``way`` leads to it from another row: "loans__"."""
    return Q(**{f"{way}returned_at": None, f"{way}undone_at": None})


OPEN = open_loans_by()


class LoanQuerySet(SchoolRowsQuerySet["Loan"]):
    """Reads of loans. A view starts from visible_to() and ends in for_table()."""

    way_to_school = "school"
    view_permission = "loans.view_loan"

    def open(self) -> Self:
        return self.filter(OPEN)

    def not_undone(self) -> Self:
        """Leave out what was taken back as a mistake: it counts as never lent."""
        return self.filter(undone_at=None)

    def not_renewed(self) -> Self:
        """Leave out the terms that ended in a renewal: nothing came back."""
        same = {"instrument": OuterRef("instrument"), "student": OuterRef("student"), "undone_at": None}
        return self.exclude(Exists(Loan.objects.filter(pk__gt=OuterRef("pk"), lent_at=OuterRef("returned_at"), **same)))

    def to_inspect(self) -> Self:
        """Return those whose instruments came back without an inspection that is still to come."""
        back = self.filter(returned_at__isnull=False, is_lost=False, taken_back=None)
        return back.filter(instrument__is_return_inspection_due=True).not_renewed()

    def overdue(self, *, today: date) -> Self:
        return self.open().filter(due_on__lt=today)

    def unsigned(self) -> Self:
        """Return what is out without a signed agreement, here or elsewhere."""
        return self.open().filter(agreement=None, is_signed_elsewhere=False)

    def for_table(self) -> Self:
        return self.select_related("instrument", "school", "student")

    def for_signing(self) -> Self:
        """Read with each loan what its agreement says."""
        return self.for_table().select_related("hand_out", "actor").prefetch_related("student__guardians")


class Loan(models.Model):
    """One instrument lent to one student, from lent_at until returned_at, or until it was undone as a mistake.

    Lost for good, it ends without coming back.

    It belongs to the school that lent it, wherever the instrument goes later.
    """

    school = models.ForeignKey(School, models.PROTECT, related_name="loans")
    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="loans")
    student = models.ForeignKey(Student, models.PROTECT, related_name="loans")
    lent_at = models.DateTimeField()
    lent_on = models.DateField()
    due_on = models.DateField()
    returned_at = models.DateTimeField(null=True, blank=True)  # or given up as lost
    is_lost = models.BooleanField(default=False, db_default=False)  # it ended without the instrument
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    returned_to = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)  # taken back as a mistake
    undone_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    was_waiting = models.BooleanField(default=False, db_default=False)  # until then, for an instrument of this kind
    # What the student had until then, and got this for.
    in_place_of = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="swapped_for")
    limits_reason = models.CharField(max_length=400, blank=True)  # why it went out in spite of its limits
    limits = models.JSONField(default=list, blank=True)  # the limits at hand-out
    accessories = models.JSONField(default=list, blank=True)  # [{"code", "name", "count"}] handed out
    accessories_back = models.JSONField(default=list, blank=True)
    replacement_amount = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    hand_out = models.ForeignKey(Inspection, models.PROTECT, null=True, blank=True, related_name="loans_out")
    taken_back = models.ForeignKey(Inspection, models.PROTECT, null=True, blank=True, related_name="loans_back")
    # By the word of a list: the family signed on a paper that is kept elsewhere, so none is asked for here.
    is_signed_elsewhere = models.BooleanField(default=False, db_default=False)
    nonce = models.UUIDField(unique=True)  # a form posted twice makes one loan

    objects = LoanQuerySet.as_manager()

    class Meta:
        ordering = ["-lent_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["instrument"], condition=OPEN, name="loan_one_open"),
            models.CheckConstraint(condition=Q(due_on__gte=F("lent_on")), name="loan_due_after_lent"),
            models.UniqueConstraint(
                # Of swaps alone, or a search of open loans would go by its index.
                fields=["in_place_of"],
                condition=Q(undone_at=None, in_place_of__isnull=False),
                name="loan_swapped_once",
            ),
        ]
        # Of the open ones alone: they are many, and sorting them by what they join to should read no other column.
        indexes = [
            models.Index(fields=["due_on"], condition=OPEN, name="loan_open_due"),
            models.Index(fields=["instrument", "student"], condition=OPEN, name="loan_open_between"),
            models.Index(
                fields=["school", "due_on", "instrument", "student"],
                condition=OPEN,
                name="loan_open_at_school",
            ),
        ]

    def __str__(self) -> str:
        return f"loan {self.pk}"

    @property
    def is_open(self) -> bool:
        return self.returned_at is None and self.undone_at is None


def terms_sha256(text: str) -> str:
    """Return the hash of the terms' text, as the event of writing them keeps it."""
    return hashlib.sha256(text.encode()).hexdigest()


SALT = "salt"  # among the facts, until a name is erased from them: so their hash in the event tells nobody what it was


def facts_sha256(facts: dict[str, Any]) -> str:
    """Return the hash of what was agreed, as the event of signing keeps it."""
    return hashlib.sha256(json.dumps(facts, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


class AgreementQuerySet(SchoolRowsQuerySet["Agreement"]):
    way_to_school = "loan__school"
    view_permission = "loans.view_agreement"

    def for_paper(self) -> Self:
        """Read with each agreement all that its paper may say."""
        return self.select_related(
            "terms", "loan__instrument", "loan__school", "loan__student", "loan__hand_out", "loan__actor"
        )


class Agreement(models.Model):
    """The signed agreement of a loan: signed on screen, on paper with a scan, or by a link.

    What was agreed is kept as it was at signing, for whoever prints it later: ``facts`` is about instrument and loan,
    ``names`` holds the people, who are erased with the student. What one signed before there were facts lacks is read
    from the rows.
    """

    class Signed(models.TextChoices):
        SCREEN = "screen", _("Signed on screen")
        PAPER = "paper", _("Signed on paper")
        LINK = "link", _("Signed by link")

    loan = models.OneToOneField(Loan, models.PROTECT, related_name="agreement")
    terms = models.ForeignKey(AgreementTerms, models.PROTECT, related_name="agreements")
    signed = models.CharField(max_length=8, choices=Signed)
    signed_at = models.DateTimeField()
    student_signature = models.FileField(upload_to="signatures/%Y/", blank=True)
    guardian_signature = models.FileField(upload_to="signatures/%Y/", blank=True)
    facts = models.JSONField(default=dict, blank=True)  # loans.selectors.agreements.agreed_facts
    names = models.JSONField(default=dict, blank=True)  # agreed_names, beside it
    guardian_signer = models.CharField(max_length=120, blank=True)
    scan = models.FileField(upload_to="scans/%Y/", blank=True)  # of one signed by link: the text as the page had it
    pdf = models.FileField(upload_to="agreements/%Y/", blank=True)
    # The hashes stay when the files are deleted at the end of the retention period.
    pdf_sha256 = models.CharField(max_length=64, blank=True)
    scan_sha256 = models.CharField(max_length=64, blank=True)
    student_signature_sha256 = models.CharField(max_length=64, blank=True)
    guardian_signature_sha256 = models.CharField(max_length=64, blank=True)

    objects = AgreementQuerySet.as_manager()

    def __str__(self) -> str:
        return f"agreement of loan {self.loan_id}"


class AddendumQuerySet(SchoolRowsQuerySet["Addendum"]):
    way_to_school = "agreement__loan__school"
    view_permission = "loans.view_agreement"


class Addendum(models.Model):
    """Another due date than what was agreed before: a paper of its own beside the signed one, which stays as it is."""

    agreement = models.ForeignKey(Agreement, models.PROTECT, related_name="addenda")
    due_before = models.DateField()
    due_on = models.DateField()
    written_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    pdf = models.FileField(upload_to="agreements/%Y/", blank=True)
    pdf_sha256 = models.CharField(max_length=64, blank=True)  # stays when the file is deleted

    objects = AddendumQuerySet.as_manager()

    class Meta:
        ordering = ["written_at", "pk"]
        verbose_name_plural = _("addenda")

    def __str__(self) -> str:
        return f"addendum {self.pk}"
