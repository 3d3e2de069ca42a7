"""Lost and stolen instruments: the open cases, what a family may be charged, and what goes into the file for a claim."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from core.days import full_day
from desk.selectors.charging import repair_amount, value_of_lent
from inventory.catalog.load import catalog
from inventory.models import Finding, Inspection, Photo
from inventory.rules.value import Value
from loans.models import Agreement, LedgerEntry, Loss
from loans.rules.charging import Cap
from loans.rules.losses import Next, taken_off
from loans.selectors.comparing import handed_out_with
from loans.selectors.losses import charged_for, charged_loans, next_step

PHOTOS = 4
CASES_SHOWN = 8  # on Today
ENDED_SHOWN = 40


@dataclass(frozen=True, slots=True)
class Case:
    loss: Loss
    next: Next


def open_cases(user: Any, *, today: date, most: int | None = None) -> list[Case]:
    """Return the open cases, the one whose next step is due first at the front. Two queries."""
    rows = list(Loss.objects.visible_to(user).open().for_table())
    charged = charged_loans([loss.loan_id for loss in rows])
    cases = [Case(loss, next_step(loss, is_charged=loss.loan_id in charged, today=today)) for loss in rows]
    return sorted(cases, key=lambda case: (case.next.by, case.loss.pk))[:most]


@dataclass(frozen=True, slots=True)
class LossCharge:
    """What may be charged for a loss, and how that came about."""

    value: Value
    charged: Decimal  # before, for damage or loss of the same loan, and not taken off
    most: Decimal

    def as_json(self) -> dict[str, str]:
        """Return what the ledger keeps of it."""
        return {
            "value": str(self.value.as_is_amount),
            "value_words": f"{self.value.words}; {self.value.as_is_words}",
            "charged_before": str(self.charged),
            "most": str(self.most),
        }


def why_not_charged(loss: Loss, *, today: date) -> str:
    """Return why the family is not charged yet, or ""."""
    if today < loss.search_until:
        words = gettext("Nobody is charged before %(day)s, the end of the search.")
        return words % {"day": full_day(loss.search_until)}
    if loss.sort == Loss.Sort.STOLEN and not loss.police_number:
        return gettext("Enter the number of the police report first.")
    return ""


def loss_charge(loss: Loss) -> LossCharge:
    value = value_of_lent(loss.loan, on=loss.noticed_on)
    cap = Cap(
        cost=value.as_is_amount,
        value=value.as_is_amount,
        charged=charged_for(loss.loan),
    )
    return LossCharge(value, cap.charged, cap.amount)


@dataclass(frozen=True, slots=True)
class FoundAgain:
    """What is taken off a charge for an instrument that was found."""

    charge: LedgerEntry
    found_on: date
    full_days: int
    repair_amount: Decimal  # of damage since it went out
    value_amount: Decimal  # when it was lost
    off_amount: Decimal
    is_inspected: bool  # since it was found, where its condition counts

    def as_json(self) -> dict[str, Any]:
        """Return what the ledger keeps of it."""
        return {
            "charge": self.charge.pk,
            "charged": str(self.charge.amount),
            "days": (self.found_on - self.charge.on).days,
            "full_days": self.full_days,
            "repair": str(self.repair_amount),
            "value": str(self.value_amount),
        }


def found_again(loss: Loss, charge: LedgerEntry) -> FoundAgain:
    """Return what the rule takes off; with the student again, nothing counts as damaged before it comes back."""
    loan, found_on = loss.loan, loss.found_on or charge.on
    instrument, repair, is_inspected = loan.instrument, Decimal(0), True
    if loss.outcome == Loss.Outcome.FOUND:
        findings = [row.fact for row in Finding.objects.filter(instrument=instrument).standing()]
        repair = max(repair, repair_amount(instrument, findings) - repair_amount(instrument, handed_out_with(loan)))
        seen = instrument.inspected_at
        is_inspected = seen is not None and timezone.localdate(seen) >= found_on
    full_days = int(catalog().settings["loss_full_refund_days"])
    value = value_of_lent(loan, on=loss.noticed_on).as_is_amount
    off = taken_off(
        charged=charge.amount, charged_on=charge.on, found_on=found_on, full_days=full_days, repair_cost=repair,
        value=value,
    )  # fmt: skip
    return FoundAgain(charge, found_on, full_days, repair, value, off, is_inspected)


@dataclass(frozen=True, slots=True)
class ClaimFile:
    """What an insurer asks for: the instrument, its value, when it was last seen by us. Nobody's name."""

    loss: Loss
    value: Value
    photos: tuple[Photo, ...]
    inspections: tuple[Inspection, ...]
    agreement: Agreement | None


def claim_file(loss: Loss) -> ClaimFile:
    loan = loss.loan
    inspections = loan.instrument.inspections.finished().filter(finished_at__lte=loss.reported_at)
    return ClaimFile(
        loss=loss,
        value=value_of_lent(loan, on=loss.noticed_on),
        photos=tuple(
            Photo.objects.filter(instrument=loan.instrument_id, taken_at__lte=loss.reported_at).order_by(
                "-taken_at", "-pk"
            )[:PHOTOS]
        ),
        inspections=tuple(inspections.order_by("-finished_at", "-pk")[:3]),
        agreement=Agreement.objects.filter(loan=loan).first(),
    )
