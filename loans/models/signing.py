"""Papers printed to be signed before or after an instrument goes out."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q

from core.models import User
from inventory.models import Instrument, SchoolRowsQuerySet
from loans.models.lending import AgreementTerms, Loan
from loans.models.people import Student
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
