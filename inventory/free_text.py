"""Where words of one's own are typed about instruments."""

from __future__ import annotations

from core.free_text import FreeText
from inventory.columns import COLUMNS
from inventory.models import (
    Donation,
    Finding,
    ImportBatch,
    ImportRow,
    Inspection,
    Instrument,
    Photo,
    PlayTest,
    ProblemReport,
    Room,
    Tag,
)

SCHOOL, INSTRUMENT = "instrument__school_id", "instrument_id"

FREE_TEXT = (
    FreeText(Instrument, tuple(column.name for column in COLUMNS if column.is_free_text), "school_id", "pk"),
    FreeText(Tag, ("revoked_because",), SCHOOL, INSTRUMENT),
    FreeText(Photo, ("caption",), SCHOOL, INSTRUMENT),
    FreeText(Donation, ("history",), SCHOOL, INSTRUMENT),
    FreeText(Inspection, ("note", "unsafe_because"), SCHOOL, INSTRUMENT),
    FreeText(Finding, ("note",), SCHOOL, INSTRUMENT),
    FreeText(PlayTest, ("note", "limits_text", "played_with", "tester_plays"), SCHOOL, INSTRUMENT),
    FreeText(ProblemReport, ("text", "answer"), SCHOOL, INSTRUMENT),
    FreeText(Room, ("name",), "school_id", is_short=True),
    FreeText(ImportBatch, ("filename",), "school_id", is_short=True),
    FreeText(ImportRow, ("cells", "values", "remarks", "reason"), "batch__school_id"),
)
