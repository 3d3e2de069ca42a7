"""Where words of one's own are typed about instruments."""

from __future__ import annotations

from django.db.models import Q

from core.free_text import FreeText
from core.models import Revision
from inventory.columns import TYPED
from inventory.kept import TYPED_OF_DISPOSALS
from inventory.models import (
    CountDifference,
    Disposal,
    Donation,
    Finding,
    ImportBatch,
    ImportRow,
    Inspection,
    Instrument,
    InstrumentPaper,
    ListRemark,
    Lock,
    Photo,
    PlayTest,
    ProblemReport,
    PurchaseRequest,
    Room,
    SampleItem,
    Sighting,
    Tag,
    Transfer,
)

SCHOOL, INSTRUMENT = "instrument__school_id", "instrument_id"

DONOR = ("donor_name", "donor_contact")  # the giver, as giver, stays

FREE_TEXT = (
    FreeText(Instrument, TYPED, "school_id", "pk"),
    FreeText(
        Revision,
        ("before", "after"),
        "tenant",
        "thread",
        where=~Q(subject_type=Donation._meta.label_lower, column__in=DONOR),
        home=("subject_type", "subject_id", "column"),
        also={"salt": ""},
    ),
    FreeText(Tag, ("revoked_because",), SCHOOL, INSTRUMENT),
    FreeText(Photo, ("caption",), SCHOOL, INSTRUMENT),
    FreeText(Lock, ("combination",), SCHOOL, INSTRUMENT),
    FreeText(Donation, ("history",), SCHOOL, INSTRUMENT),
    FreeText(Disposal, (*TYPED_OF_DISPOSALS, "ended_because"), SCHOOL, INSTRUMENT),
    FreeText(Transfer, ("because", "settled_note"), SCHOOL, INSTRUMENT),
    FreeText(InstrumentPaper, ("title", "withdrawn_because"), SCHOOL, INSTRUMENT),
    FreeText(Inspection, ("note", "unsafe_because"), SCHOOL, INSTRUMENT),
    FreeText(Finding, ("note",), SCHOOL, INSTRUMENT),
    FreeText(PlayTest, ("note", "limits_text", "played_with", "tester_plays"), SCHOOL, INSTRUMENT),
    FreeText(ProblemReport, ("text", "answer"), SCHOOL, INSTRUMENT),
    FreeText(SampleItem, ("note", "recorded"), SCHOOL, INSTRUMENT),
    FreeText(Sighting, ("text",), "count__school_id"),
    FreeText(CountDifference, ("note",), "count__school_id"),
    FreeText(PurchaseRequest, ("for_whom",), "school_id", is_short=True),
    FreeText(Room, ("name",), "school_id", is_short=True),
    FreeText(ImportBatch, ("filename", "answers", "cleaned_by"), "school_id", is_short=True),
    FreeText(ListRemark, ("text",), SCHOOL, INSTRUMENT),
    FreeText(ImportRow, ("cells", "values", "remarks", "reason"), "batch__school_id"),
)
