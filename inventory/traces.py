"""How the event log speaks of people, schools, instruments and what is found at them."""

from __future__ import annotations

from typing import Any

from django.db.models import Q

from core.models import User
from core.traces import NOTHING, Entry, Named, Trace, after, always, moment, tenant, thread_row, who
from inventory.models import (
    CalendarLink,
    ChartConfirmation,
    Count,
    CountLine,
    Disposal,
    District,
    Donation,
    Figure,
    Finding,
    ImportBatch,
    Inspection,
    Instrument,
    InstrumentPaper,
    Integration,
    ListRemark,
    Lock,
    Photo,
    PlayTest,
    ProblemReport,
    PurchaseRequest,
    Purpose,
    Room,
    Sample,
    SampleItem,
    School,
    Sighting,
    StaffRole,
    Tag,
    Transfer,
    Whereabouts,
)
from inventory.rules.sample_frame import frame_hash

HERE = {"instrument_id": thread_row}
State = ImportBatch.State
PLANNED = (
    "school_id", "confidence", "tolerable_rate", "expected_rate", "distribution", "tested", "strata", "cuts", "seed",
    "frame_sha256", "population", "size", "allowed",
)  # fmt: skip


def _purpose(event: Entry) -> Any:
    """The purpose of an inspection; a part taken was once written as one of the bench."""
    purpose = event.after.get("purpose", NOTHING)
    return NOTHING if purpose in {Purpose.BENCH, Purpose.PART} else purpose


TRACES = (
    Trace(
        CalendarLink,
        begins={"calendar_link_made"},
        says={
            "calendar_link_made": {"made_at": moment, "revoked_at": always(None)},
            "calendar_link_revoked": {"revoked_at": moment},
        },
        columns=("user_id", "school_id"),
    ),
    Trace(
        Integration,
        begins={"integration_made"},
        says={
            "integration_made": {"made_at": moment, "revoked_at": always(None), "last_read_on": always(None)},
            "integration_revoked": {"revoked_at": moment},
            "integration_read": {"last_read_on": after("on")},
        },
        columns=("school_id", "scopes", "expires_on", "made_by_id"),
    ),
    Trace(Lock, begins={"lock_noted"}, says={"lock_noted": HERE}),
    Trace(
        User,
        begins={"person_added"},
        says={
            "person_added": {"is_active": always(value=True)},
            "person_let_in": {"is_active": always(value=True)},
            "person_kept_out": {"is_active": always(value=False)},
        },
    ),
    Trace(
        StaffRole,
        begins={"role_given"},
        ends={"role_taken"},
        says={"role_given": {"user_id": after("user"), "role": after("role"), "school_id": after("school")}},
    ),
    Trace(
        District,
        begins={"district_changed"},
        says={
            "district_changed": {
                name: after(name) for name in ("name", "asset_prefix", "asset_digits", "keep_papers_years")
            }
        },
    ),
    Trace(
        School,
        begins={"school_added"},
        says={"school_added": {"code": after("code")}, "school_changed": {"name": after("name")}},
    ),
    Trace(Room, begins={"room_added"}, says={"room_added": {"school_id": tenant}}),
    Trace(  # what is entered and corrected is kept: inventory/kept.py
        Instrument,
        begins={"registered"},
        says={
            "registered": {
                "registered_at": moment,
                "whereabouts": always(Whereabouts.IN_STORE.value),
                "is_retired": always(value=False),
                "is_entered_in_error": always(value=False),
                "trusted_until": after("trusted_until"),
                "merged_into_id": always(None),
            },
            "merged": {"merged_into_id": after("into")},
            "unmerged": {"merged_into_id": always(None)},
            "moved": {"whereabouts": after("whereabouts")},
            "retired": {"is_retired": always(value=True)},
            "no_longer_retired": {"is_retired": always(value=False)},
            "registered_in_error": {"is_entered_in_error": always(value=True)},
            "error_withdrawn": {"is_entered_in_error": always(value=False)},
        },
        silent={"judged", "accessories_counted", "cleaned", "findings_closed", "findings_reopened"},
    ),
    Trace(  # replacing a tag once told nothing of the old one: only events with NOW say that a tag is live
        Tag,
        begins={"tag_issued"},
        says={"tag_issued": HERE | {"issued_at": moment}, "tag_revoked": {"revoked_at": moment}},
        columns=("revoked_at",),
        silent={"labels_printed"},
    ),
    Trace(
        Inspection,
        begins={"inspected", "inspection_dropped"},
        needs=Q(finished_at__isnull=False) | Q(dropped_at__isnull=False),
        says={
            "inspected": HERE | {"finished_at": moment, "verdict": after("verdict"), "purpose": _purpose},
            "inspection_dropped": HERE | {"dropped_at": moment},
        },
        counts={"inspected": (after("findings"), Finding, "inspection_id")},
    ),
    Trace(
        PlayTest,
        begins={"play_tested"},
        says={
            "play_tested": HERE
            | {"played_at": moment, "actor_id": who, "result": after("result"), "failed_notes": after("failed_notes")}
        },
    ),
    Trace(
        ProblemReport,
        begins={"problem_reported"},
        says={
            "problem_reported": HERE | {"said_at": moment, "closed_at": always(None)},
            "report_answered": {"closed_at": moment, "closed_by_id": who},
        },
    ),
    Trace(
        Photo,
        begins={"photo_kept"},
        says={"photo_kept": HERE | {"taken_at": moment, "sha256": after("sha256"), "part": after("part")}},
        columns=("small_sha256",),
        files={"image": "sha256", "small": "small_sha256"},
    ),
    Trace(  # the rest is kept: inventory/kept.py
        Disposal,
        begins={"left_fleet"},
        says={
            "left_fleet": HERE | {"recorded_at": moment, "actor_id": who, "ended_at": always(None)},
            "back_in_fleet": {
                "ended_at": moment,
                "ended_by_id": who,
                "back_on": after("back_on"),
                "was_wrong": after("was_wrong"),
            },
        },
    ),
    Trace(
        Transfer,
        begins={"transfer_offered"},
        says={
            "transfer_offered": HERE
            | {
                "offered_at": moment,
                "from_school_id": after("from"),
                "to_school_id": after("to"),
                "settled_at": always(None),
            },
            **{
                act: {"settled_at": moment, "settled_by_id": who, "is_agreed": always(value=is_agreed)}
                for act, is_agreed in (("transfer_agreed", True), ("transfer_declined", False))
            },
        },
        columns=("accessories",),
    ),
    Trace(
        InstrumentPaper,
        begins={"paper_kept"},
        says={
            "paper_kept": HERE | {"kept_at": moment, "sha256": after("sha256"), "withdrawn_at": always(None)},
            "paper_withdrawn": {"withdrawn_at": moment, "withdrawn_by_id": who},
        },
        files={"file": "sha256"},
    ),
    Trace(Donation, begins={"gift_recorded"}, says={"gift_recorded": HERE}),  # the rest is kept: inventory/kept.py
    Trace(ListRemark, begins={"list_remarked"}, says={"list_remarked": HERE | {"said_at": moment}}),
    Trace(
        ImportBatch,
        begins={"import_begun"},
        says={
            "import_begun": {"school_id": tenant},
            "imported": {"state": always(State.PUBLISHED.value), "sha256": after("sha256")},
            "import_dropped": {"state": always(State.DROPPED.value)},
        },
    ),
    Trace(
        PurchaseRequest,
        begins={"purchase_requested"},
        says={
            "purchase_requested": {
                "school_id": tenant,
                "asked_at": moment,
                "asked_by_id": who,
                "closed_at": always(None),
                "closed_as": always(""),
                "closed_by_id": always(None),
            },
            "purchase_closed": {"closed_at": moment, "closed_by_id": who, "closed_as": after("as")},
        },
        columns=("lines", "needed_by", "seated", "wanted"),
    ),
    Trace(
        Sample,
        begins={"sample_drawn"},
        says={
            "sample_drawn": {"drawn_at": moment, "drawn_by_id": who, "frame_hash": after("frame_sha256")},
            "sample_finished": {"closed_at": moment, "closed_by_id": who, "stopped_because": always("")},
            "sample_stopped": {"closed_at": moment, "closed_by_id": who, "stopped_because": after("because")},
        },
        columns=PLANNED,
        derived={"frame_hash": ("frame", frame_hash)},
        named=(
            Named(
                SampleItem,
                under="sample_id",
                acts={"sample_drawn": "items"},
                says={
                    "sample_examined": {
                        "result": after("result"),
                        "examined_at": moment,
                        "examined_by_id": who,
                    }
                },
            ),
        ),
    ),
    Trace(
        Count,
        begins={"count_opened"},
        says={
            "count_opened": {
                "opened_at": moment,
                "opened_by_id": who,
                "school_id": tenant,
                "is_blind": after("is_blind"),
            }
        },
        columns=("counted_at", "dropped_at", "signed_at", "signed_by_id", "second_id", "round"),
        counts={"count_opened": (after("lines"), CountLine, "count_id")},
    ),
    Trace(
        Sighting,
        begins={"sighted"},
        says={
            "sighted": {
                name: after(key)
                for name, key in (
                    ("count_id", "count"),
                    ("room_id", "room"),
                    ("outcome", "outcome"),
                    ("round", "round"),
                )
            }
            | {"seen_at": moment, "actor_id": who, "undone_at": always(None)},
            "sighting_undone": {"undone_at": moment},
        },
    ),
    Trace(
        Figure,
        begins={"figure_set"},
        says={
            "figure_set": {
                "set_at": moment,
                **{name: after(name) for name in ("key", "value", "effective_on")},
            }
        },
    ),
    Trace(
        ChartConfirmation,
        begins={"chart_confirmed"},
        ends={"chart_withdrawn"},
        says={
            "chart_confirmed": {
                "chart": after("chart"),
                "digest": after("digest"),
                "confirmed_on": after("on"),
                "confirmed_by_id": who,
            }
        },
    ),
)
