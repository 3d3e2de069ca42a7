"""How the event log speaks of students, loans and agreements."""

from __future__ import annotations

from core.traces import Named, Trace, after, always, moment, tenant, thread_row, who
from loans.models import (
    Addendum,
    Agreement,
    AgreementTerms,
    Assignment,
    AssignmentLine,
    ClassPeriod,
    Ensemble,
    GradeRoll,
    Guardian,
    LedgerEntry,
    LegalHold,
    Loan,
    Loss,
    Notice,
    PaperToSign,
    RosterChoice,
    Seat,
    SharedUse,
    SigningLink,
    Student,
    facts_sha256,
    terms_sha256,
)
from loans.rules.terms import ENGLISH

TRACES = (
    Trace(
        Student,
        begins={"student_added"},
        says={
            "student_added": {"merged_into_id": always(None), "school_id": tenant},
            "student_left": {"left_on": after("left_on")},
            "student_back": {"left_on": always(None)},
            "student_off_roster": {"off_roster_on": after("off_roster_on")},
            "student_on_roster": {"off_roster_on": always(None)},
            "student_erased": {"erased_at": moment, "left_on": always(None), "off_roster_on": always(None)},
            "student_merged": {"merged_into_id": after("into")},
            "student_unmerged": {"merged_into_id": always(None)},
        },
        named=(
            Named(Guardian, under="student_id", acts={"student_added": "guardians", "student_changed": "guardians"}),
        ),
    ),
    Trace(
        GradeRoll,
        begins={"grades_went_up"},
        says={
            "grades_went_up": {
                "school_id": tenant,
                "year": after("year"),
                "left_on": after("left_on"),
                "rolled_at": moment,
                "actor_id": who,
                "undone_at": always(None),
            },
            "grades_went_back": {"undone_at": moment, "undone_by_id": who},
        },
    ),
    Trace(
        LegalHold,
        begins={"hold_set"},
        says={
            "hold_set": {
                "student_id": after("student"),
                "ends_on": after("ends_on"),
                "set_at": moment,
                "actor_id": who,
                "lifted_at": always(None),
            },
            "hold_lifted": {"lifted_at": moment, "lifted_by_id": who},
        },
    ),
    Trace(
        AgreementTerms,
        begins={"terms_written"},
        says={
            "terms_written": {
                "version": after("version"),
                "language": lambda event: event.after.get("language", ENGLISH),  # older ones were all in English
            }
        },
        columns=("sha256",),
        derived={"sha256": ("text", terms_sha256)},
    ),
    Trace(RosterChoice, begins={"roster_course_chosen"}, columns=("is_taken",)),
    Trace(Ensemble, begins={"ensemble_added"}, columns=("level", "priority", "is_active")),
    Trace(ClassPeriod, begins={"period_added"}, columns=("ensemble_id", "place", "is_active")),
    Trace(
        Seat,
        begins={"seat_taken"},
        says={
            "seat_taken": {
                "student_id": after("student"),
                "ensemble_id": after("ensemble"),
                "period_id": after("period"),
                "since": after("since"),
            },
            "seat_moved": {"student_id": after("student")},
        },
        columns=("kind_code", "size", "level", "is_own", "until"),
    ),
    Trace(
        SharedUse,
        begins={"shared"},
        says={
            "shared": {
                "instrument_id": thread_row,
                "seat_id": after("seat"),
                "period_id": after("period"),
                "since": after("since"),
                "until": always(None),
            },
            "sharing_moved": {"instrument_id": thread_row, "seat_id": after("seat")},
            "sharing_ended": {"until": after("until")},
        },
    ),
    Trace(
        Assignment,
        begins={"assignment_proposed"},
        says={"assignment_proposed": {"school_id": tenant, "made_at": moment, "actor_id": who}},
        columns=("state", "seed", "revision", "excluded", "locked_at", "locked_by_id"),
        silent={"hand_out_list_printed"},
        named=(
            Named(
                AssignmentLine,
                under="assignment_id",
                acts={"assignment_proposed": "rows", "assignment_changed": "rows"},
            ),
        ),
    ),
    Trace(
        Loan,
        begins={"lent", "lent_as_listed"},
        says={
            "lent": {
                "instrument_id": thread_row,
                "school_id": tenant,
                "student_id": after("student"),
                "lent_at": moment,
                "due_on": after("due_on"),
                "in_place_of_id": after("in_place_of"),
                "actor_id": who,
                "returned_at": always(None),
                "undone_at": always(None),
            },
            "lent_as_listed": {
                "instrument_id": thread_row,
                "school_id": tenant,
                "student_id": after("student"),
                "lent_at": moment,
                "lent_on": after("since"),
                "due_on": after("due_on"),
                "is_signed_elsewhere": after("is_signed_elsewhere"),
                "actor_id": who,
                "returned_at": always(None),
            },
            "returned": {"returned_at": moment, "returned_to_id": who, "taken_back_id": after("inspection")},
            "return_inspected": {"taken_back_id": after("inspection")},
            "return_undone": {
                "returned_at": always(None),
                "returned_to_id": always(None),
                "taken_back_id": always(None),
            },
            "renewed": {"returned_at": moment, "returned_to_id": who, "taken_back_id": always(None)},
            "renewal_undone": {"returned_at": always(None), "returned_to_id": always(None)},
            "loan_ended_lost": {"returned_at": moment, "returned_to_id": who, "is_lost": always(value=True)},
            "loan_undone": {"undone_at": moment, "undone_by_id": who},
            "due_changed": {"due_on": after("due_on")},
        },
        columns=("replacement_amount",),
        silent={"return_recounted"},
    ),
    Trace(
        Agreement,
        begins={"agreement_signed"},
        says={
            "agreement_signed": {
                "loan_id": after("loan"),
                "signed": after("signed"),
                "signed_at": moment,
                "facts_sha256": after("facts"),
                "has_scan": lambda event: event.after.get("signed") != Agreement.Signed.SCREEN,
            },
            "agreement_redacted": {"facts_sha256": after("facts")},
            "agreement_filed": {
                "pdf_sha256": after("sha256"),
                "has_pdf": always(value=True),
                "facts_sha256": after("facts"),
            },
            "papers_deleted": {
                "pdf_sha256": after("pdf_sha256"),
                "scan_sha256": after("scan_sha256"),
                "has_pdf": always(value=False),
                "has_scan": always(value=False),
            },
        },
        columns=("terms_id", "scan_sha256", "pdf_sha256", "student_signature_sha256", "guardian_signature_sha256"),
        derived={"facts_sha256": ("facts", facts_sha256), "has_pdf": ("pdf", bool), "has_scan": ("scan", bool)},
        files={name: f"{name}_sha256" for name in ("pdf", "scan", "student_signature", "guardian_signature")},
    ),
    Trace(
        Addendum,
        begins={"addendum_written"},
        says={
            "addendum_written": {
                "agreement_id": after("agreement"),
                "due_before": after("due_before"),
                "due_on": after("due_on"),
                "written_at": moment,
                "actor_id": who,
            },
            "addendum_filed": {"pdf_sha256": after("sha256"), "has_pdf": always(value=True)},
            "addendum_deleted": {"has_pdf": always(value=False)},
        },
        derived={"has_pdf": ("pdf", bool)},
        files={"pdf": "pdf_sha256"},
    ),
    Trace(
        PaperToSign,
        begins={"paper_printed"},
        says={
            "paper_printed": {"printed_at": moment, "actor_id": who, "done_at": always(None)},
            "paper_used": {"done_at": moment},
            "paper_voided": {"done_at": moment},
        },
        columns=("student_id", "instrument_id", "loan_id", "terms_id", "scan_sha256"),
        files={"scan": "scan_sha256"},
    ),
    Trace(
        SigningLink,
        begins={"signing_link_made"},
        says={
            "signing_link_made": {"made_at": moment, "actor_id": who, "ended_at": always(None)},
            "signing_link_mailed": {"sent_at": moment},
            "signing_link_opened": {"opened_at": moment},
            "signing_link_ended": {"ended_at": moment, "ended": after("how")},
        },
        columns=("loan_id", "guardian_id", "terms_id", "way", "sent_at"),
    ),
    Trace(
        Loss,
        begins={"loss_reported"},
        says={
            "loss_reported": {"reported_at": moment, "actor_id": who, "ended_at": always(None)},
            "loss_ended": {
                "ended_at": moment,
                "ended_by_id": who,
                "outcome": after("outcome"),
                "found_on": after("found_on"),
            },
            "loss_reopened": {
                "ended_at": always(None),
                "ended_by_id": always(None),
                "outcome": always(""),
                "found_on": always(None),
            },
        },
        columns=("loan_id", "sort", "noticed_on", "search_until", "steps"),
    ),
    Trace(
        LedgerEntry,
        begins={"ledger_entered"},
        says={"ledger_entered": {"school_id": tenant, "actor_id": who, "at": moment}},
        columns=("student_id", "loan_id", "sort", "amount", "on", "reverses_id", "approved_by_id"),
    ),
    Trace(
        Notice,
        begins={"notice_made"},
        says={
            "notice_made": {
                "made_at": moment,
                "actor_id": who,
                "handed_at": always(None),
                "came_back_at": always(None),
                "dropped_at": always(None),
            },
            "notice_mailed": {"handed_at": moment},
            "notice_printed": {"handed_at": moment},
            "notice_came_back": {"came_back_at": moment, "came_back_to_id": who},
            "notice_came_back_undone": {"came_back_at": always(None), "came_back_to_id": always(None)},
            "notice_dropped": {"dropped_at": moment},
        },
        columns=("loan_id", "guardian_id", "sort", "way", "about_on", "round", "report_id"),
    ),
)
