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
    Tag,
)

SCHOOL, HORN = "instrument__school_id", "instrument_id"

FREE_TEXT = (
    FreeText(Instrument, tuple(column.name for column in COLUMNS if column.is_free_text), "school_id", "pk"),
    FreeText(Tag, ("revoked_because",), SCHOOL, HORN),
    FreeText(Photo, ("caption",), SCHOOL, HORN),
    FreeText(Donation, ("history",), SCHOOL, HORN),
    FreeText(Inspection, ("note", "unsafe_because"), SCHOOL, HORN),
    FreeText(Finding, ("note",), SCHOOL, HORN),
    FreeText(PlayTest, ("note", "limits_text", "played_with", "tester_plays"), SCHOOL, HORN),
    FreeText(ProblemReport, ("text", "answer"), SCHOOL, HORN),
    FreeText(ImportBatch, ("filename",), "school_id"),
    FreeText(ImportRow, ("cells", "values", "remarks", "reason"), "batch__school_id"),
)
