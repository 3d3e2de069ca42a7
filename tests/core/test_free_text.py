"""No column in which people type may be forgotten when a name is taken out."""

from __future__ import annotations

from collections import Counter

import pytest
from django.apps import apps
from django.db import models

from core.free_text import Typed, changed, registered, rewrite, strings_in, typed_texts
from core.models import Revision
from inventory.models import Finding, Instrument, ProblemReport, Room
from inventory.services.registering import record_donation
from tests.factories import NOW, TODAY, make_instrument, make_school

OURS = {"core", "inventory", "repairs", "loans", "desk"}
CODES = "chosen from a list, a code, a hash or a number of ours"
NOT_ABOUT_STUDENTS = {
    "core.User": "the staff; taken out by an administrator",
    "core.Event": "ids and values only; no service puts free words into it",
    "core.EventHead": CODES,
    "core.PostedForm": CODES,
    "core.LogInTry": CODES,  # keyed hashes
    "core.OneTimeLink": CODES,
    "core.SignOn": "an account of the staff, as its issuer numbers it",
    "inventory.ChartConfirmation": CODES,
    "inventory.ColumnMemory": "headings of columns",
    "inventory.District": "the district's own words",
    "inventory.Figure": CODES,
    "inventory.Integration": "another program's name",
    "inventory.OpeningLink": CODES,
    "inventory.Sample": "what an auditor means to test, written before anything is drawn",
    "inventory.School": "the school itself",
    "inventory.StaffRole": CODES,
    "inventory.Accessory": CODES,
    "inventory.Custody": CODES,
    "inventory.PartLook": CODES,
    "loans.AgreementTerms": "what all families sign",
    "loans.Assignment": CODES,
    "loans.AssignmentLine": CODES,
    "loans.Seat": CODES,
    "loans.Student": "the row that is erased itself",
    "loans.Guardian": "erased with the student",
    "repairs.Bench": "a workplace",
    "repairs.CareDone": CODES,
    "repairs.CareNext": CODES,
    "repairs.RepairBudget": "a fund's name",
    "repairs.Shop": "an outside firm, of the whole district",
    "repairs.StepClock": CODES,
    "repairs.StockItem": "what lies in a drawer",
}
CODED = {
    "inventory.CountLine": {"outcome"},
    "inventory.CountDifference": {"reason"},
    "inventory.Sighting": {"outcome"},
    "inventory.Finding": {"part", "place", "fault", "detail", "closed_reference"},
    "inventory.ImportBatch": {"sha256", "header", "mapping", "worksheet", "asked"},
    "inventory.ImportRow": {"column", "fingerprint"},
    "inventory.Inspection": {"accessory_counts", "verdict", "under_kind"},
    "inventory.InstrumentPaper": {"sha256"},
    "inventory.Transfer": {"accessories"},
    "core.LongWork": {
        "function", "title", "language", "arguments", "dedupe_key", "permission", "schools", "phase", "message",
        "result_url", "file", "file_name",
    },  # our own words, keys and codes, gone after a day; files go when somebody is erased
    "core.Revision": {"subject_type", "subject_id", "column", "salt"},
    "inventory.Instrument": {
        "asset_number", "kind_code", "options", "fingerprint", "limits", "readiness_reasons",
    },  # limits and reasons are computed from the rows that hold the words
    "inventory.CalendarLink": {"token_hash"},
    "inventory.Donation": {"donor_name", "donor_contact"},  # the giver, as giver
    "inventory.Photo": {"part", "sha256", "small_sha256"},
    "inventory.PlayTest": {"failed_notes", "weak_notes", "tried_notes", "measures"},
    "inventory.ProblemReport": {"source"},
    "inventory.PurchaseRequest": {"lines"},
    "inventory.SampleItem": {"stratum", "number", "key"},
    "inventory.Tag": {"token"},
    "loans.Agreement": {
        "names", "guardian_signer", "pdf_sha256", "scan_sha256", "student_signature_sha256",
        "guardian_signature_sha256",
    },  # the people go with the student
    "loans.Addendum": {"pdf_sha256"},
    "loans.GradeRoll": {"lines"},  # keys and grades
    "loans.Loss": {"steps"},  # codes and days
    "loans.SigningLink": {"agreed_hash", "token_hash"},
    "loans.PaperToSign": {"code", "scan_sha256"},
    "loans.Notice": {"facts"},  # a day and the number of a spare
    "loans.LedgerEntry": {"reckoning"},  # codes and amounts
    "loans.ClassPeriod": {"sourced_id"},
    "loans.Ensemble": set(),
    "loans.RosterChoice": {"sourced_id"},
    "loans.Loan": {"accessories", "accessories_back"},
    "repairs.Attempt": {"step_key", "method", "rung", "part", "place", "findings", "parts_used"},
    "repairs.CautionRead": {"hazard", "version", "text"},  # the catalog's own words
    "repairs.Job": {"retry_keys", "step_tries"},
    "repairs.ShopOrder": {"work", "findings", "invoice_number", "purchase_order"},
    "repairs.OrderUndo": {"act"},
    "repairs.StockMove": set(),
    "repairs.TakenPart": {"part", "place"},
    "repairs.WorthDecision": {"lines", "rules"},
}  # fmt: skip


def typed_columns(model: type[models.Model]) -> set[str]:
    wordy = (models.CharField, models.TextField, models.JSONField)
    return {field.name for field in model._meta.concrete_fields if isinstance(field, wordy) and not field.choices}


def test_every_column_is_registered_or_its_exception_has_a_reason():
    known = {entry.model._meta.label: set(entry.columns) for entry in registered()}
    left_over = {
        model._meta.label: left
        for model in apps.get_models()
        if model._meta.app_label in OURS and model._meta.label not in NOT_ABOUT_STUDENTS
        if (left := typed_columns(model) - known.get(model._meta.label, set()) - CODED.get(model._meta.label, set()))
    }
    assert left_over == {}


def test_the_exceptions_name_only_what_exists():
    labels = {model._meta.label: model for model in apps.get_models()}
    assert set(NOT_ABOUT_STUDENTS) | set(CODED) <= set(labels)
    assert all(columns <= typed_columns(labels[label]) for label, columns in CODED.items())


@pytest.mark.parametrize("entry", registered(), ids=lambda entry: entry.model._meta.label)
def test_every_registered_lookup_answers(db, entry):
    school = make_school()
    assert list(typed_texts(tenant=school.pk, threads=[1])) == []
    assert all(entry.model._meta.get_field(column) for column in entry.columns)


def test_texts_are_found_by_school_and_by_instrument(db):
    here, there = make_school(), make_school()
    mine = make_instrument(school=here, notes="mine")
    theirs = make_instrument(school=there, notes="theirs")
    report = ProblemReport.objects.create(instrument=theirs, said_at=NOW, text="sticks")
    own = [f"inventory.instrument:{mine.pk}:{column}" for column in ("maker", "serial", "notes")]
    other = [f"inventory.instrument:{theirs.pk}:{column}" for column in ("maker", "serial", "notes")]
    # Each text of the register twice: in its row, and in the revision of the event that registered it.
    assert Counter(typed.home for typed in typed_texts(tenant=here.pk)) == Counter(own * 2)
    found = list(typed_texts(tenant=here.pk, threads=[theirs.pk]))
    assert Counter(typed.home for typed in found) == Counter(
        [*(own + other) * 2, f"inventory.problemreport:{report.pk}:text"]
    )
    assert {typed.thread for typed in found if typed.model is ProblemReport} == {theirs.pk}
    (row, version) = (typed for typed in found if typed.text == "mine")
    assert (row.model, version.model, version.column) == (Instrument, Revision, "after")
    assert row.same == version.same


def test_who_gave_a_gift_is_not_searched_but_what_is_told_of_it_is(db, director):
    here = make_school()
    record_donation(
        instrument=make_instrument(school=here),
        donor_name="Gale",
        received_on=TODAY,
        history="Gale's",
        actor=director,
        at=NOW,
    )
    assert {typed.home.rpartition(":")[2] for typed in typed_texts(tenant=here.pk) if "Gale" in typed.text} == {
        "history"
    }


def test_a_text_is_changed_in_its_row_alone_and_cut_to_its_column(db):
    instrument, other = make_instrument(notes="a name", serial="7"), make_instrument(notes="a name", serial="8")
    typed = Typed(Instrument, instrument.pk, "notes", "a name", instrument.pk)
    assert rewrite(typed, lambda text: text.replace("name", "[x]"))
    assert not rewrite(typed, lambda text: text)
    assert dict(Instrument.objects.values_list("pk", "notes")) == {instrument.pk: "a [x]", other.pk: "a name"}
    assert rewrite(Typed(Instrument, instrument.pk, "funding_source", "x", instrument.pk), lambda _: "y" * 500)
    assert Instrument.objects.get(pk=instrument.pk).funding_source == "y" * 120
    assert rewrite(Typed(Instrument, instrument.pk, "serial", "7", instrument.pk), lambda _: "8")  # which is taken
    assert Instrument.objects.get(pk=instrument.pk).serial == "8 2"


def test_a_version_whose_text_is_changed_loses_its_salt(db):
    make_instrument(notes="a name")
    version = Revision.objects.get(column="notes")
    assert not version.is_erased
    assert rewrite(Typed(Revision, version.pk, "after", "a name", version.thread), lambda _: "[x]")
    version.refresh_from_db()
    assert (version.after, version.salt, version.is_erased) == ("[x]", "", True)


def test_what_may_be_there_once_gets_a_number(db):
    school = make_school()
    rooms = [Room.objects.create(school=school, name=name) for name in ("Rosa's room", "rosa's room", "[x] room")]
    for room in rooms[:2]:
        assert rewrite(Typed(Room, room.pk, "name", room.name, None), lambda _: "[x] room")
    assert [room.name for room in Room.objects.order_by("pk")] == ["[x] room 2", "[x] room 3", "[x] room"]


def test_json_keeps_its_shape():
    value = {"a": ["x", {"b": "x"}, 3, None], "x": True}
    assert list(strings_in(value)) == ["x", "x"]
    assert changed(value, str.upper) == {"a": ["X", {"b": "X"}, 3, None], "x": True}


def test_a_model_registered_twice_counts_once():
    assert sum(entry.model is Finding for entry in registered()) == 1
