"""What families owe: the fee of the year, payments, a waiver, and damage of last year. Draws no random numbers."""

from __future__ import annotations

from decimal import Decimal
from uuid import UUID, uuid5

from desk.demo.money import nonce_of
from desk.demo.stage import Stage
from desk.selectors.charging import charge_of, returned_loan
from desk.services.charging import charge_for_damage
from loans.models import LedgerEntry, Loan
from loans.rules.ledger import Sort
from loans.services.ledger import charge_yearly_fee, enter_in_ledger

FEE = Decimal(35)
WAIVED, UNPAID = 3, 4  # of five families: who is waived, who has paid nothing yet
DAMAGED = 3  # charged for damage, at each school


def charge_families(stage: Stage) -> None:
    """Charge last year's damage and this year's fee at each school; three of five families have paid it."""
    for code, school in stage.schools.items():
        nonce, director = nonce_of(f"fees of {code}"), stage.director_of(school)
        _charge_damage(stage, code, nonce=nonce)
        on, at = stage.at(-70).date(), stage.at(-70, 14)
        charge_yearly_fee(
            school=school, amount=FEE, on=on, note=f"Instrument fee {on.year}", actor=director, at=at, nonce=nonce
        )
        fees = LedgerEntry.objects.filter(school=school, sort=Sort.FEE).select_related("student")
        for number, fee in enumerate(fees.order_by("pk")):
            if number % 5 == UNPAID:
                continue
            is_waived = number % 5 == WAIVED
            enter_in_ledger(
                student=fee.student,
                sort=Sort.WAIVER if is_waived else Sort.PAYMENT,
                amount=FEE,
                on=stage.at(-60 + number % 20).date(),
                reckoning=None if is_waived else {"by": "check" if number % 2 else "cash"},
                approved_by=stage.people["administrator"] if is_waived else None,
                actor=director,
                at=stage.at(-60 + number % 20, 15),
                nonce=uuid5(fee.nonce, "settled"),
            )


def _charge_damage(stage: Stage, code: str, *, nonce: UUID) -> None:
    """Charge the first families whose instrument came back with damage that costs something."""
    loans = Loan.objects.filter(school__code=code, returned_at__isnull=False, taken_back__isnull=False)
    charged = 0
    for loan in loans.select_related("instrument__school", "hand_out", "taken_back", "student").order_by("pk"):
        returned = returned_loan(loan)
        if charged == DAMAGED or not returned.proposed:
            continue
        most = charge_of(returned, chosen=returned.proposed).cap.amount
        if most:
            charge_for_damage(
                loan=loan, chosen=returned.proposed, amount=most, actor=stage.director_of(loan.school),
                at=stage.at(-72, 15), nonce=uuid5(nonce, f"loan:{loan.pk}"),
            )  # fmt: skip
            charged += 1
