"""Which act on a shop order may be taken back, and which columns that gives back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

PROMISE = ("promised_on", "first_promised_on")
REFUSAL = ("refused_at", "refused_by")

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "estimate_given": ("estimate_amount", "estimate_on", *REFUSAL, *PROMISE),
    "cost_approved": ("approved_amount", "approved_at", "approved_by"),
    "cost_refused": (*REFUSAL, "refused_because"),
    "work_ordered": ("is_estimate_only",),
    "order_called_off": ("called_off_at", "called_off_because"),
    "sent_to_shop": ("sent_at", *PROMISE),
    "promise_changed": PROMISE,
    "back_from_shop": ("returned_at", "what_was_done", "warranty_until"),
    "invoice_noted": ("invoice_amount", "invoice_number", "invoice_on", *REFUSAL),
}
BY_APPROVERS = {"cost_approved", "cost_refused"}  # taken back by who may approve
TAKEN_BACK = "order_act_undone"
ON_ITS_OWN = {"shop_work_played"}  # follows from a play test, and is in nobody's way


@dataclass(frozen=True, slots=True)
class Act:
    """One act on an order as the event log has it; ``undoes`` is the number of the act it takes back."""

    number: int
    act: str
    undoes: int | None = None


def acts_that_hold(acts: Iterable[Act]) -> list[Act]:
    """Those that nobody took back, oldest first, without the taking back itself."""
    rows = sorted(acts, key=lambda one: one.number)
    undone = {one.undoes for one in rows}
    return [one for one in rows if one.act != TAKEN_BACK and one.number not in undone]


def act_to_undo(acts: Iterable[Act]) -> Act | None:
    """The latest act that holds, if a new act may take it back: asking is not undone but canceled."""
    rows = [one for one in acts_that_hold(acts) if one.act not in ON_ITS_OWN]
    return rows[-1] if rows and rows[-1].act in COLUMNS else None
