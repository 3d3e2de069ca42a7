"""What families owe and paid, by double entry. Rows are only ever added."""

from __future__ import annotations

from decimal import Decimal
from typing import Self

from django.db import models
from django.db.models import Q, Sum
from django.utils.translation import gettext_lazy as _

from core.models import AppendOnlyQuerySet, NeverDeleted, NeverDeletedQuerySet, User
from inventory.models import School, SchoolRowsQuerySet
from loans.models.lending import Loan
from loans.models.people import Student
from loans.rules.ledger import MOST, Account, Sort, in_cents, in_dollars

SORT_LABELS = {
    Sort.FEE: _("Fee"),
    Sort.DAMAGE: _("Charge for damage"),
    Sort.LOSS: _("Charge for loss"),
    Sort.PAYMENT: _("Payment"),
    Sort.REFUND: _("Refund"),
    Sort.WAIVER: _("Waiver"),
    Sort.FOUND: _("Credited because it was found"),
    Sort.REVERSAL: _("Reversal"),
}
PAID_BY_LABELS = {"cash": _("Cash"), "check": _("Check"), "other": _("Another way")}
ACCOUNT_LABELS = {
    Account.FAMILY: _("Owed by families"),
    Account.CASH: _("Received"),
    Account.FEES: _("Fees"),
    Account.DAMAGE: _("Damage"),
    Account.LOSS: _("Losses"),
    Account.WAIVED: _("Waived"),
}


class LedgerEntryQuerySet(  # type: ignore[override]  # as_manager has one manager for both
    NeverDeletedQuerySet["LedgerEntry"], SchoolRowsQuerySet["LedgerEntry"]
):
    """A mistake is put right by a reversal; only an erasure empties a note."""

    way_to_school = "school"
    view_permission = "loans.view_ledger"

    def standing(self) -> Self:
        """Those that were neither reversed nor are a reversal."""
        return self.filter(reversed_by=None, reverses=None)


class LedgerEntry(NeverDeleted):
    """One thing that happened between a school and a family: a fee, a payment, its reversal."""

    called = "entries of the ledger"

    school = models.ForeignKey(School, models.PROTECT, related_name="ledger_entries")
    student = models.ForeignKey(Student, models.PROTECT, related_name="ledger_entries")
    loan = models.ForeignKey(Loan, models.PROTECT, null=True, blank=True, related_name="ledger_entries")
    sort = models.CharField(max_length=8, choices=SORT_LABELS)
    amount = models.DecimalField(
        max_digits=8, decimal_places=2
    )  # as it was entered; what it moved stands in the postings
    on = models.DateField()
    reverses = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="reversed_by")
    # Of a charge: how the amount was found; of a payment: how it came ("by"). Codes and amounts, no names.
    reckoning = models.JSONField(default=dict, blank=True)
    note = models.CharField(max_length=200, blank=True)
    approved_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")  # of a waiver
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    nonce = models.UUIDField(unique=True)

    objects = LedgerEntryQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(  # a waiver of later fees alone is of nothing, and so is its reversal
                condition=Q(amount__range=(Decimal("0.01"), MOST)) | Q(amount=0, sort__in=("waiver", "reversal")),
                name="ledger_amount_believed",
            ),
            models.CheckConstraint(
                condition=Q(sort="reversal", reverses__isnull=False) | (~Q(sort="reversal") & Q(reverses=None)),
                name="ledger_reverses_one",
            ),
            models.CheckConstraint(
                condition=~Q(sort="waiver") | Q(approved_by__isnull=False), name="ledger_waiver_approved"
            ),
        ]
        indexes = [models.Index(fields=["school", "on"], name="ledger_by_day")]

    def __str__(self) -> str:
        return f"entry {self.pk}"

    @property
    def paid_by(self) -> str:
        """How a payment came or went, in a word, or ""."""
        return str(PAID_BY_LABELS.get(self.reckoning.get("by", ""), ""))

    @property
    def reversal(self) -> LedgerEntry | None:
        """The entry that took this one back. One query, none where it was joined."""
        return getattr(self, "reversed_by", None)


class PostingQuerySet(AppendOnlyQuerySet["Posting"]):
    def of_families(self) -> Self:
        return self.filter(account=Account.FAMILY)

    def sum(self) -> Decimal:
        return in_dollars(self.aggregate(sum=Sum("cents"))["sum"] or 0)


class Posting(NeverDeleted):
    """What an entry moved in one account; those of an entry add up to nothing."""

    called = "postings"

    entry = models.ForeignKey(LedgerEntry, models.PROTECT, related_name="postings")
    account = models.CharField(max_length=8, choices=ACCOUNT_LABELS)
    cents = models.IntegerField()  # a debit, or below nothing a credit; whole, as SQLite sums decimals inexactly

    objects = PostingQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["entry", "account"], name="posting_account_once"),
            models.CheckConstraint(
                condition=Q(cents__range=(-in_cents(MOST), in_cents(MOST))) & ~Q(cents=0),
                name="posting_amount_believed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.account} {self.amount:+}"

    @property
    def amount(self) -> Decimal:
        return in_dollars(self.cents)
