"""An erased student stands in no row, no text, no paper and no log."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.files.storage import default_storage

from core.events import broken_links
from core.models import Event, Revision
from core.traces import log_differences
from inventory.models import (
    Closed,
    District,
    Finding,
    ImportBatch,
    ImportRow,
    Instrument,
    PlayTest,
    ProblemReport,
    Room,
)
from inventory.services.care import record_play_test, report_problem
from inventory.services.registering import change_instrument
from loans.exceptions import StudentRefusedError
from loans.models import SALT, Agreement, Guardian, Loan, Student
from loans.selectors.erasing import named_in, places_to_redact, redaction_of
from loans.services import change_student, erase_student, lend_instrument, return_loan
from loans.tasks import print_agreement
from tests.contests import at_once
from tests.factories import (
    NOW,
    TODAY,
    make_director,
    make_district,
    make_instrument,
    make_ready_instrument,
    make_school,
    make_student,
    new_nonce,
)
from tests.loans.makers import (
    all_back,
    all_counts,
    make_agreement,
    make_hand_out,
    make_loan,
    make_return_walk,
    state_of_rows,
)
from tests.opening import differences, open_all

LATER = NOW + timedelta(days=100)
PERSON = {
    "name": "Rosa Lindqvist",
    "grade": "6",
    "guardian_name": "Per Lindqvist",
    "guardian_contact": "555-010-4477",
    "level": "first_year",
}
WORDS = ("rosa", "lindqvist", "4477", "bergström", "ulla", "417733")


@pytest.fixture
def student(school) -> Student:
    made = make_student(school=school, number="C-417733", sourced_id="s-1", **PERSON)
    Guardian.objects.create(
        student=made, place=2, name="Ulla Bergström", email="ulla@family.example", address="9 Ash Rd", sourced_id="g-2"
    )
    return made


@pytest.fixture
def loan(school, director, student) -> Loan:
    """Out and back again, with everything that somebody may have typed on the way."""
    made = make_loan(school=school, actor=director, student=student)
    make_agreement(made, guardian_signer="Per Lindqvist")
    counts = {row["code"]: row["count"] for row in made.accessories}
    return return_loan(loan=made, taken_back=make_return_walk(made), accessories_back=counts, actor=director, at=LATER)


def log() -> str:
    rows = " ".join(str(row) for row in Event.objects.values_list("before", "after")).lower()
    return re.sub("[0-9a-f]{64}", "hash", rows)  # any four digits may stand in a hash


def test_names_and_papers_go_and_loan_and_hash_stay(student, loan, director, django_capture_on_commit_callbacks):
    agreement = print_agreement(agreement=Agreement.objects.get(), actor=director, at=NOW)
    files = [agreement.pdf.name, agreement.student_signature.name, agreement.guardian_signature.name]
    assert all(default_storage.exists(name) for name in files)
    with django_capture_on_commit_callbacks(execute=True):
        erase_student(student=student, actor=director, at=LATER)
    gone = Student.objects.get()
    assert (gone.name, gone.sort_name, gone.grade, gone.number, gone.sourced_id) == ("", "", "", "", "")
    emptied = Guardian.places.values_list("name", "email", "phone", "contact", "address", "sourced_id")
    assert set(emptied) == {("", "", "", "", "", "")}
    assert not Guardian.objects.exists()
    assert str(gone) == "erased"
    assert Loan.objects.get(pk=loan.pk).student_id == student.pk
    paper = Agreement.objects.get()
    assert (paper.pdf_sha256, paper.guardian_signer, paper.pdf.name) == (agreement.pdf_sha256, "", "")
    assert not [name for name in files if default_storage.exists(name)]
    assert not [word for word in WORDS if word in log()]


def test_full_names_and_contacts_are_taken_out_of_all_texts_of_the_school(student, loan, director, school):
    elsewhere = make_instrument(school=school, notes="Swapped with R. Lindqvist's horn.")
    foreign = make_instrument(school=make_school(), notes="Rosa Lindqvist of another school.")
    report = report_problem(instrument=elsewhere, text="Call Per Lindqvist, 555 010 4477", at=LATER)
    batch = ImportBatch.objects.create(school=school, filename="list.csv", sha256="0" * 64, begun_at=NOW)
    row = ImportRow.objects.create(batch=batch, number=1, state="problem", cells=["TR-1", "Lindqvist, Rosa"])
    open_all()
    erase_student(student=student, actor=director, at=LATER)
    assert Instrument.objects.get(pk=elsewhere.pk).notes == "Swapped with [erased]'s horn."
    assert ProblemReport.objects.get(pk=report.pk).text == "Call [erased], [erased]"
    assert ImportRow.objects.get(pk=row.pk).cells == ["TR-1", "[erased]"]
    assert Instrument.objects.get(pk=foreign.pk).notes == "Rosa Lindqvist of another school."
    (version,) = Revision.objects.filter(salt="")
    assert version.after == "Swapped with [erased]'s horn."
    assert Event.objects.get(act="student_erased").after == {"papers": 1, "texts": 3, "revisions": [version.pk]}
    assert Event.objects.get(act="text_redacted").thread == elsewhere.thread
    assert differences()[1] == []


def test_what_was_derived_from_a_text_is_derived_anew(student, loan, director):
    instrument = loan.instrument
    record_play_test(
        instrument=instrument,
        result="limits",
        limits_text="Rosa Lindqvist needs the low notes only",
        actor=director,
        at=LATER,
    )
    assert "Rosa" in str(Instrument.objects.get(pk=instrument.pk).limits)
    erase_student(student=student, actor=director, at=LATER)
    assert PlayTest.objects.get().limits_text == "[erased] needs the low notes only"
    assert "Rosa" not in str(Instrument.objects.filter(pk=instrument.pk).values("limits", "readiness_reasons"))
    assert differences()[1] == []
    assert list(broken_links()) == []


def test_a_single_word_is_taken_out_only_where_somebody_says_so(student, loan, director):
    walk = loan.taken_back
    said = [
        Finding.objects.create(
            inspection=walk, instrument=loan.instrument, part="bell", fault="dent", severity="light", found_at=LATER,
            place=place, note=note, closed_at=LATER, closed_because=Closed.NOT_SEEN,
        )
        for place, note in (("a", "Rosa sat on it"), ("b", "rosa red lacquer"))
    ]  # fmt: skip
    unsure = named_in(student, redaction_of(student)).unsure
    assert [typed.value for typed in unsure] == ["Rosa sat on it", "rosa red lacquer"]
    erase_student(student=student, actor=director, at=LATER, meant=[unsure[0].key])
    assert [Finding.objects.get(pk=one.pk).note for one in said] == ["[erased] sat on it", "rosa red lacquer"]


def test_rooms_title_holder_and_names_of_files_are_reached(student, loan, director, school):
    held = make_instrument(school=school, title_holder="Family of Rosa Lindqvist")
    rooms = [Room.objects.create(school=school, name=name) for name in ("Rosa Lindqvist's corner", "Lindqvist closet")]
    files = ("rosa_lindqvist.csv", "lindqvist.csv", "horns.csv")
    batches = [
        ImportBatch.objects.create(school=school, filename=name, sha256=str(number) * 64, begun_at=NOW)
        for number, name in enumerate(files)
    ]
    open_all()
    unsure = {typed.key: typed.value for typed in named_in(student, redaction_of(student)).unsure}
    assert sorted(unsure.values()) == ["Lindqvist closet", "lindqvist.csv"]
    erase_student(student=student, actor=director, at=LATER, meant=unsure)
    assert Instrument.objects.get(pk=held.pk).title_holder == "Family of [erased]"
    assert [Room.objects.get(pk=room.pk).name for room in rooms] == ["[erased]'s corner", "[erased] closet"]
    names = [ImportBatch.objects.get(pk=batch.pk).filename for batch in batches]
    assert names == ["[erased].csv", "[erased].csv", "horns.csv"]
    assert list(log_differences()) == []  # what is erased counts as erased, not as changed by hand


def test_both_halves_of_a_double_surname_are_reached(school, director):
    student = make_student(school=school, name="Rosa García-López", guardian_name="Ana García López")
    make_instrument(school=school, notes="Rosa Garcia and A. López asked; López, Rosa signed.")
    erase_student(student=student, actor=director, at=NOW)
    assert Instrument.objects.get().notes == "[erased] and [erased] asked; [erased] signed."


def test_what_was_signed_names_nobody_any_more(student, loan, director):
    make_district()
    District.objects.update(keep_papers_years=3)
    agreement = print_agreement(agreement=Agreement.objects.get(), actor=director, at=NOW)
    assert agreement.names["student"] == "Rosa Lindqvist"
    erase_student(student=student, actor=director, at=LATER)
    kept = Agreement.objects.get()
    assert (kept.names, kept.guardian_signer, kept.pdf.name) == ({}, "", agreement.pdf.name)
    assert kept.facts == agreement.facts
    assert not [word for word in WORDS if word in str(kept.facts).lower()]


def test_what_was_corrected_long_ago_is_erased_from_the_history(student, loan, director):
    """Neither what a correction took away nor what only a person knows to be a name stays in a revision."""
    for columns in ({"notes": "Rosa Lindqvist bent it"}, {"notes": "Rosa's"}, {"notes": "", "serial": "R. Lindqvist"}):
        change_instrument(instrument=loan.instrument, actor=director, at=LATER, **columns)
    places = places_to_redact(student, nicknames=(), checked={})
    assert [(place["where"], place["text"]) for place in places["unsure"]] == [
        (f"{loan.instrument.asset_number}, instrument", "Rosa's")
    ]
    assert places["sure_count"] == 2
    erase_student(student=student, actor=director, at=LATER, meant=[place["key"] for place in places["unsure"]])
    said = [word for row in Revision.objects.all() for word in (row.before, row.after)]
    assert {word for word in said if "erased" in word} == {"[erased] bent it", "[erased]'s", "[erased]"}
    assert not [word for word in said if "osa" in word or "indq" in word]
    assert Instrument.objects.get(pk=loan.instrument_id).serial == "[erased]"
    assert not [word for word in WORDS if word in log()]
    assert differences()[1] == []


def test_a_nickname_is_looked_for_too(student, loan, director):
    report = report_problem(instrument=loan.instrument, text="Lindy says it sticks", at=LATER)
    key = f"inventory.problemreport:{report.pk}:text"
    erase_student(student=student, actor=director, at=LATER, meant=[key], nicknames=["Lindy"])
    assert ProblemReport.objects.get(pk=report.pk).text == "[erased] says it sticks"


def test_a_name_in_what_was_agreed_is_erased_like_other_text_and_its_old_hash_tells_nothing(school, director, student):
    theirs = make_ready_instrument(school=school, maker="Plain", model="Lindy", serial="Rosa Lindqvist 12")
    made = make_loan(school=school, student=student, actor=director, instrument=theirs)
    make_agreement(loan=made)
    return_loan(loan=made, taken_back=make_return_walk(made), accessories_back=all_back(made), actor=director, at=LATER)
    make_agreement(
        loan=make_loan(actor=director, instrument=make_ready_instrument(school=school, serial="R. Lindqvist"))
    )
    open_all()
    assert differences()[1] == []
    places = places_to_redact(student, nicknames=["Lindy"], checked={})["unsure"]
    first, other = Agreement.objects.order_by("pk")
    assert [place["text"] for place in places if place["key"].startswith("loans.agreement")] == [
        "Plain; Lindy; Rosa Lindqvist 12"
    ]
    erase_student(
        student=student, actor=director, at=LATER, nicknames=["Lindy"], meant=[place["key"] for place in places]
    )
    kept = Agreement.objects.get(pk=first.pk).facts
    assert kept == {
        **{name: value for name, value in first.facts.items() if name != SALT},
        "model": "[erased]",
        "serial": "[erased] 12",
    }
    assert Agreement.objects.get(pk=other.pk).facts["serial"] == "[erased]"
    assert Event.objects.filter(act="agreement_redacted").count() == 2
    assert differences()[1] == []


def test_a_paper_whose_time_runs_stays_until_it_is_over(student, loan, director):
    make_district()
    District.objects.update(keep_papers_years=3)
    agreement = print_agreement(agreement=Agreement.objects.get(), actor=director, at=NOW)
    erase_student(student=student, actor=director, at=LATER)
    kept = Agreement.objects.get()
    assert (kept.pdf.name, kept.guardian_signer) == (agreement.pdf.name, "")
    assert Event.objects.get(act="student_erased").after["papers"] == 0


def test_a_paper_goes_before_its_time_when_somebody_says_so(student, loan, director):
    make_district()
    District.objects.update(keep_papers_years=3)
    print_agreement(agreement=Agreement.objects.get(), actor=director, at=NOW)
    erase_student(student=student, actor=director, at=LATER, deletes_papers_early=True)
    assert not Agreement.objects.get().pdf


def test_signatures_without_a_paper_are_not_kept(student, loan, director):
    make_district()
    District.objects.update(keep_papers_years=3)
    erase_student(student=student, actor=director, at=LATER)
    assert not Agreement.objects.get().student_signature


def test_nobody_is_erased_while_something_is_out(school, director, student):
    make_loan(school=school, actor=director, student=student)
    before = state_of_rows()
    with pytest.raises(StudentRefusedError, match="Take the instrument back first"):
        erase_student(student=student, actor=director, at=NOW)
    assert state_of_rows() == before


def test_an_erased_student_cannot_be_written_again(school, director):
    student = make_student(school=school)
    erase_student(student=student, actor=director, at=NOW)
    before = state_of_rows()
    erase_student(student=student, actor=director, at=NOW)
    with pytest.raises(StudentRefusedError):
        change_student(student=student, name="Rosa", grade="6", level="concert", actor=director, at=NOW)
    assert state_of_rows() == before


def test_nobody_is_erased_with_an_instrument_lent_at_the_same_moment(transactional_db):
    instrument = make_ready_instrument()
    director = make_director(instrument.school)
    student = make_student(school=instrument.school, **PERSON)
    hand_out = make_hand_out(instrument, actor=director)

    def lend() -> Loan:
        return lend_instrument(
            instrument=instrument, student=student, due_on=TODAY, accessories=all_counts(instrument), hand_out=hand_out,
            actor=director, at=NOW, nonce=new_nonce(),
        )  # fmt: skip

    results = at_once(lend, lambda: erase_student(student=student, actor=director, at=NOW))
    assert sum(isinstance(result, StudentRefusedError) for result in results) == 1
    assert Loan.objects.open().exists() is (Student.objects.get().erased_at is None)
