"""How the event log speaks of benches, jobs, care, stock, shops and what is decided."""

from __future__ import annotations

from core.traces import Named, Trace, after, always, moment, tenant, thread_row, who
from repairs.models import (
    Attempt,
    Bench,
    CareDone,
    Job,
    OrderUndo,
    PartsInstrument,
    RepairBudget,
    Shop,
    ShopOrder,
    StockItem,
    StockMove,
    TakenPart,
    WorthDecision,
)
from repairs.rules.orders import TAKEN_BACK

HERE = {"instrument_id": thread_row}
ON_HAND = {"quantity": after("on_hand")}
MOVES = {f"stock_{why}": "move" for why in StockMove.Why.values}
SETTLED = {"settled_at": moment, "settled_by_id": who}
ORDER_COLUMNS = (
    "shop_id",
    "budget_id",
    "warranty_of_id",
    "is_estimate_only",
    "trip_amount",
    "expected_low_amount",
    "expected_high_amount",
    "estimate_amount",
    "estimate_on",
    "approved_amount",
    "approved_at",
    "approved_by_id",
    "refused_at",
    "refused_by_id",
    "sent_at",
    "first_promised_on",
    "promised_on",
    "returned_at",
    "warranty_until",
    "invoice_amount",
    "invoice_on",
    "play_test_id",
    "called_off_at",
)


TRACES = (
    Trace(
        Bench,
        begins={"bench_set_up"},
        says={
            "bench_set_up": {
                "school_id": tenant,
                "has_torch": after("torch"),
                "has_chemicals": after("chemicals"),
                "rate_amount": after("rate"),
            },
            "bench_retired": {"retired_at": moment, "retired_by_id": who},
            "bench_brought_back": {"retired_at": always(None)},
        },
    ),
    Trace(
        Job,
        begins={"job_opened"},
        says={
            "job_opened": HERE
            | {"opened_at": moment, "opened_by_id": who, "due_on": after("due_on"), "closed_at": always(None)},
            "job_closed": {"closed_at": moment, "closed_by_id": who, "play_test_id": after("play_test")},
        },
        silent={"cautions_acknowledged", "step_waits", "step_wait_stopped", "tried_in_vain", "asked_again"},
        named=(
            Named(
                Attempt,
                under="job_id",
                acts={"step_done": "attempt"},
                says={
                    "step_done": {
                        "step_key": after("step"),
                        "method": after("method"),
                        "outcome": after("outcome"),
                        "ended_at": moment,
                        "actor_id": who,
                    }
                },
                columns=("outcome", "minutes", "parts_amount"),
            ),
        ),
    ),
    Trace(
        CareDone,
        begins={"care_done"},
        says={
            "care_done": HERE | {"code": after("care"), "done_on": after("done_on"), "withdrawn_at": always(None)},
            "care_withdrawn": {"withdrawn_at": moment},
        },
    ),
    Trace(
        WorthDecision,
        begins={"worth_decided"},
        says={
            "worth_decided": HERE
            | {
                "decided_at": moment,
                "decided_by_id": who,
                "answer": after("answer"),
                "advised": after("advised"),
                "cost_p80_amount": after("p80"),
                "value_amount": after("value"),
            },
            "worth_approved": SETTLED | {"is_approved": always(value=True)},
            "worth_refused": SETTLED | {"is_approved": always(value=False)},
        },
    ),
    Trace(
        RepairBudget,
        begins={"budget_added"},
        says={
            "budget_added": {"amount": after("amount"), "school_id": tenant},
            "budget_changed": {"amount": after("amount")},
        },
        columns=("begins_on", "ends_on"),
    ),
    Trace(Shop, begins={"shop_added"}, says={"shop_changed": {"is_used": after("is_used")}}),
    Trace(
        ShopOrder,
        begins={"shop_asked"},
        says={
            "shop_asked": HERE
            | {"asked_at": moment, "asked_by_id": who, "work": after("work"), "findings": after("findings")}
        },
        columns=ORDER_COLUMNS,
        named=(
            Named(
                OrderUndo,
                under="order_id",
                key="number",
                acts={TAKEN_BACK: "number"},
                says={TAKEN_BACK: {"undone_at": moment, "undone_by_id": who, "act": after("act")}},
            ),
        ),
    ),
    Trace(
        StockItem,
        begins={"stock_item_added"},
        says=dict.fromkeys(MOVES, ON_HAND),
        columns=("quantity",),
        named=(
            Named(
                StockMove,
                under="item_id",
                acts=MOVES,
                says={
                    f"stock_{why}": {
                        "why": always(why),
                        "quantity": after("quantity"),
                        "after_quantity": after("on_hand"),
                        "amount": after("amount"),
                        "budget_id": after("budget"),
                        "at": moment,
                        "actor_id": who,
                    }
                    for why in StockMove.Why.values
                },
                columns=("quantity", "after_quantity", "amount", "budget_id", "why"),
            ),
        ),
    ),
    Trace(
        PartsInstrument,
        begins={"kept_for_parts"},
        says={
            "kept_for_parts": HERE | {"marked_at": moment, "marked_by_id": who, "ended_at": always(None)},
            "no_parts_horn": {"ended_at": moment},
        },
        named=(
            Named(
                TakenPart,
                under="parts_instrument_id",
                acts={"part_taken": "taken"},
                says={"part_taken": {"taken_at": moment, "taken_by_id": who}},
                columns=("part", "place", "onto_id", "fit", "went", "went_at", "shelf_item_id"),
            ),
        ),
    ),
)
