"""Rows of the bench, one import path."""

from repairs.models.care import CareDone, CareDoneQuerySet, CareNext
from repairs.models.shops import Shop, ShopOrder, ShopOrderQuerySet
from repairs.models.stock import (
    PartsHorn,
    PartsHornQuerySet,
    StockItem,
    StockItemQuerySet,
    StockMove,
    StockMoveQuerySet,
    TakenPart,
)
from repairs.models.work import (
    Attempt,
    AttemptQuerySet,
    Bench,
    BenchQuerySet,
    Job,
    JobQuerySet,
    Outcome,
    StepClock,
)
from repairs.models.worth import Answer, WorthDecision, WorthDecisionQuerySet

__all__ = [
    "Answer",
    "Attempt",
    "AttemptQuerySet",
    "Bench",
    "BenchQuerySet",
    "CareDone",
    "CareDoneQuerySet",
    "CareNext",
    "Job",
    "JobQuerySet",
    "Outcome",
    "PartsHorn",
    "PartsHornQuerySet",
    "Shop",
    "ShopOrder",
    "ShopOrderQuerySet",
    "StepClock",
    "StockItem",
    "StockItemQuerySet",
    "StockMove",
    "StockMoveQuerySet",
    "TakenPart",
    "WorthDecision",
    "WorthDecisionQuerySet",
]
