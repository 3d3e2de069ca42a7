"""Papers printed to be signed before or after an instrument goes out, and links by which guardians sign from home."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.models import Instrument, SchoolRowsQuerySet
from loans.models.lending import AgreementTerms, Loan, open_loans_by
from loans.models.people import Guardian, Student
from loans.rules.codes import in_groups


class PaperToSignQuerySet(SchoolRowsQuerySet["PaperToSign"]):
    way_to_school = "student__school"
    view_permission = "loans.lend_instrument"

    def open(self) -> Self:
        """Return those that still may come back, or have come back and wait for their loan."""
        return self.filter(done_at=None, student__erased_at=None)

    def waiting(self) -> Self:
        """Return those that came back signed and wait for their loan."""
        return self.open().exclude(scan="")

    def to_print(self) -> Self:
        return self.open().select_related("student", "terms", "loan", "actor")


class PaperToSign(models.Model):
    """An agreement printed to be signed by hand. Its code says which it is, and names nobody.

    ``instrument`` is None where it was left open; ``loan`` where it was not lent yet.
    """

    code = models.CharField(max_length=8, unique=True)
    student = models.ForeignKey(Student, models.PROTECT, related_name="papers_to_sign")
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="+")
    loan = models.ForeignKey(Loan, models.PROTECT, null=True, blank=True, related_name="papers_to_sign")
    terms = models.ForeignKey(AgreementTerms, models.PROTECT, related_name="+")
    facts = models.JSONField(default=dict, blank=True)  # what it said about the instrument; no names
    printed_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    scan = models.FileField(upload_to="scans/%Y/", blank=True)
    scan_sha256 = models.CharField(max_length=64, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)  # the loan's agreement has it, or it is void

    objects = PaperToSignQuerySet.as_manager()

    class Meta:
        ordering = ["-printed_at", "-pk"]
        indexes = [models.Index(fields=["student"], condition=Q(done_at=None), name="paper_open_of_student")]

    def __str__(self) -> str:
        return self.shown_code

    @property
    def shown_code(self) -> str:
        return in_groups(self.code)

    def address(self, home: str) -> str:
        """Return what the QR code on the paper holds: where staff find it, or the code alone without an address."""
        return f"{home.rstrip('/').upper()}/P/{self.code}" if home else self.code


class SigningLinkQuerySet(SchoolRowsQuerySet["SigningLink"]):
    way_to_school = "loan__school"
    view_permission = "loans.lend_instrument"

    def newest_of_loans(self) -> Self:
        """Return of each loan the link that was made last."""
        newer = SigningLink.objects.filter(loan=OuterRef("loan"), pk__gt=OuterRef("pk"))
        return self.filter(~Exists(newer))

    def denied(self) -> Self:
        """Return what somebody has to look at: "not my child", and neither signed nor sent to anybody since."""
        pending = Q(open_loans_by("loan__"), loan__agreement=None, loan__is_signed_elsewhere=False)
        return self.newest_of_loans().filter(pending, ended=SigningLink.Ended.DENIED)


class SigningLink(models.Model):
    """A link by which one guardian signs for one loan, once. Whoever reads the row cannot make the link of it.

    What ends it besides is read from the rows when it is opened: ``loans.selectors.signing_links``.
    """

    class Way(models.TextChoices):
        MAIL = "mail", _("By e-mail")
        PRINT = "print", _("As a printed code")

    class Ended(models.TextChoices):
        SIGNED = "signed", _("Signed by it")
        DENIED = "denied", _("Not my child")
        REVOKED = "revoked", _("Revoked")
        REPLACED = "replaced", _("Replaced by a newer link")
        UNSENT = "unsent", _("Not mailed: the mail server refused it")

    loan = models.ForeignKey(Loan, models.PROTECT, related_name="signing_links")
    guardian = models.ForeignKey(Guardian, models.PROTECT, related_name="+")
    terms = models.ForeignKey(AgreementTerms, models.PROTECT, related_name="+")
    way = models.CharField(max_length=8, choices=Way)
    token_hash = models.CharField(max_length=64, null=True, blank=True, unique=True)  # None: not mailed
    agreed_hash = models.CharField(max_length=64)  # keyed; of what is agreed and with whom
    made_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)  # the last time
    ended_at = models.DateTimeField(null=True, blank=True)
    ended = models.CharField(max_length=8, choices=Ended, blank=True)

    objects = SigningLinkQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["loan", "guardian"], condition=Q(ended_at=None), name="signing_link_one_open"
            ),
            models.CheckConstraint(
                condition=Q(ended="", ended_at=None) | (~Q(ended="") & Q(ended_at__isnull=False)),
                name="signing_link_ended_how",
            ),
        ]

    def __str__(self) -> str:
        return f"signing link {self.pk}"
