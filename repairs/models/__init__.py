"""Rows of the bench, one import path."""

from repairs.models.care import CareDone, CareDoneQuerySet, CareNext
from repairs.models.shops import OrderUndo, RepairBudget, RepairBudgetQuerySet, Shop, ShopOrder, ShopOrderQuerySet
from repairs.models.stock import (
    PartsInstrument,
    PartsInstrumentQuerySet,
    StockItem,
    StockItemQuerySet,
    StockMove,
    StockMoveQuerySet,
    TakenPart,
)
from repairs.models.work import (
    OUTCOME_LABELS,
    WORDS_OF_ADDRESSES,
    Attempt,
    AttemptQuerySet,
    Bench,
    BenchQuerySet,
    CautionRead,
    CautionReadQuerySet,
    Job,
    JobQuerySet,
    StepClock,
)
from repairs.models.worth import ANSWER_LABELS, GIVES_UP, WorthDecision, WorthDecisionQuerySet
