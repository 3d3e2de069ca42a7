"""The plan of a repair: methods for the findings, in an order the trade allows, and what they will take."""

from repairs.rules.plan.changes import Savings, alike, may_do, savings, soaked_in
from repairs.rules.plan.links import SHOP_TRIP, is_left_to_a_shop
from repairs.rules.plan.values import (
    AtOnce,
    DoneStep,
    Left,
    Plan,
    PlannedLadder,
    PlannedStep,
    RungState,
    SentOut,
    Soaked,
    WaitsOn,
    by_reason,
)
from repairs.rules.plan.work import plan_work
