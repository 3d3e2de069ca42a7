"""Where words of one's own are typed at the bench."""

from __future__ import annotations

from core.free_text import FreeText
from repairs.models import Attempt, Job, OrderUndo, PartsInstrument, ShopOrder, StockMove, TakenPart, WorthDecision

SCHOOL, INSTRUMENT = "instrument__school_id", "instrument_id"

FREE_TEXT = (
    FreeText(Job, ("because", "ended_because"), SCHOOL, INSTRUMENT),
    FreeText(Attempt, ("note",), "job__instrument__school_id", "job__instrument_id"),
    FreeText(StockMove, ("note",), "item__bench__school_id", "attempt__job__instrument_id"),
    FreeText(PartsInstrument, ("because", "ended_because"), SCHOOL, INSTRUMENT),
    FreeText(TakenPart, ("note", "went_because"), "onto__school_id", "onto_id"),
    FreeText(ShopOrder, ("question", "what_was_done", "called_off_because", "refused_because"), SCHOOL, INSTRUMENT),
    FreeText(OrderUndo, ("because", "words"), "order__instrument__school_id", "order__instrument_id"),
    FreeText(WorthDecision, ("because", "approval_because", "settled_note"), SCHOOL, INSTRUMENT),
)
