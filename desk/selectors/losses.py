"""Lost and stolen instruments: the open cases, and what goes into the file for a claim."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from inventory.models import Inspection, Photo
from inventory.rules.value import Value, value_of
from loans.models import Agreement, Loan, Loss
from loans.rules.losses import Next
from loans.selectors.losses import charged_loans, next_step
from repairs.selectors.worth import value_facts

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


def value_when_lost(loan: Loan, *, on: date) -> Value:
    """Return what it was worth on a day: straight line from the price that was agreed."""
    facts = value_facts(loan.instrument, today=on)
    agreed = loan.replacement_amount
    return value_of(facts if agreed is None else replace(facts, replacement_amount=agreed))


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
        value=value_when_lost(loan, on=loss.noticed_on),
        photos=tuple(
            Photo.objects.filter(instrument=loan.instrument_id, taken_at__lte=loss.reported_at).order_by(
                "-taken_at", "-pk"
            )[:PHOTOS]
        ),
        inspections=tuple(inspections.order_by("-finished_at", "-pk")[:3]),
        agreement=Agreement.objects.filter(loan=loan).first(),
    )
