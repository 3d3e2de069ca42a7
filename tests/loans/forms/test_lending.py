"""The lend page and the take-back page as typed."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from inventory.models import Instrument
from inventory.services.care import record_play_test
from loans.forms import LendForm, TakeBackForm
from tests.factories import NOW, TODAY, make_ready_instrument, make_school, make_student
from tests.loans.makers import ink, make_lending_form, make_loan


@pytest.fixture
def instrument(school):
    return make_ready_instrument(school=school)


@pytest.fixture
def student(school):
    return make_student(school=school, guardian_name="Gale Guardian")


@pytest.fixture
def typed(instrument, student):
    return make_lending_form(student, guardian_signer="")


def lend_form(instrument, typed, **files):
    data = QueryDict(mutable=True)
    data.update({name: str(value) for name, value in typed.items()})
    return LendForm(data, MultiValueDict(files), instrument=Instrument.objects.get(pk=instrument.pk), today=TODAY)


def upload(content: bytes, name: str = "photo.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


def test_everything_in_its_place_is_valid(instrument, typed, student):
    form = lend_form(instrument, typed)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["due_on"].isoformat() == "2027-05-28"
    assert form.cleaned_data["guardian_signer"] == "Gale Guardian"
    assert set(form.cleaned_data["signatures"]) == {"student_signature", "guardian_signature"}
    assert form.counts() == {row.code: row.expected for row in instrument.accessories.all()}
    assert form.new_student() is None


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"student": ""}, "student"),
        ({"new_name": "Quinn"}, "student"),
        ({"student": "", "new_name": "Quinn"}, "new_grade"),
        ({"due": "other"}, "due_other"),
        ({"due": "2001-01-01"}, "due"),
        ({"student_signature": ""}, "student_signature"),
        ({"guardian_signature": "data:image/png;base64,AAAA"}, "guardian_signature"),
        ({"signed": "paper"}, "scan"),
        ({"nonce": "twice"}, "nonce"),
    ],
)
def test_what_is_missing_is_said_at_its_field(instrument, typed, change, field):
    form = lend_form(instrument, typed | change)
    assert field in form.errors


def test_a_student_of_another_school_cannot_be_chosen(instrument, typed):
    assert "student" in lend_form(instrument, typed | {"student": make_student(school=make_school()).pk}).errors


def test_a_new_student_brings_the_guardian_who_signs(instrument, typed):
    form = lend_form(
        instrument, typed | {"student": "", "new_name": "Quinn", "new_grade": "5", "new_guardian_name": "Lee"}
    )
    assert form.is_valid(), form.errors
    assert form.new_student()["name"] == "Quinn"
    assert form.cleaned_data["guardian_signer"] == "Lee"


def test_without_the_tick_each_number_counts(instrument, typed):
    form = lend_form(instrument, typed | {"all_here": "", "count_case": 1, "count_mouthpiece": 1})
    del form.data["all_here"]
    assert form.is_valid(), form.errors
    assert {code: count for code, count in form.counts().items() if count} == {"case": 1, "mouthpiece": 1}


def test_limits_ask_for_a_reason(instrument, typed, director):
    record_play_test(instrument=instrument, result="limits", limits_text="Slow.", actor=director, at=NOW)
    assert "limits_reason" in lend_form(instrument, typed).errors
    assert lend_form(instrument, typed | {"limits_reason": "Upper part."}).is_valid()


def test_a_scan_replaces_the_signatures(instrument, typed):
    bare = typed | {"signed": "paper", "student_signature": "", "guardian_signature": ""}
    form = lend_form(instrument, bare, scan=[upload(ink())])
    assert form.is_valid(), form.errors
    assert form.signing()["scan"].kind == "image/jpeg"


def test_on_paper_later_nothing_is_signed_yet(instrument, typed):
    form = lend_form(instrument, typed | {"signed": "later", "student_signature": "", "guardian_signature": ""})
    assert form.is_valid(), form.errors
    assert form.signing() is None


@pytest.mark.parametrize("content", [b"%PDF-1.4 a paper", b"MZ not a picture"])
def test_photos_that_are_none_are_refused_by_content_and_the_rest_is_kept(instrument, typed, content):
    form = lend_form(instrument, typed, photos=[upload(ink()), upload(content, "paper.jpg")])
    assert "paper.jpg" in form.errors["photos"][0]
    assert form["student"].value() == str(typed["student"])
    assert form["student_signature"].value() == typed["student_signature"]


def test_seven_photos_are_too_many(instrument, typed):
    assert "6" in lend_form(instrument, typed, photos=[upload(ink()) for _ in range(7)]).errors["photos"][0]


def test_a_student_says_what_is_out_already(school, student):
    make_loan(school=school, student=student)
    form = LendForm(instrument=make_ready_instrument(school=school), today=TODAY)
    assert "has 1 out" in str(form["student"])


BENCHES = [("1", "Bench one"), ("2", "Bench two")]


def back_form(loan, **typed):
    return TakeBackForm({"found": "same", "to": "store", "all_here": "on"} | typed, loan=loan, benches=BENCHES)


def test_taking_back_counts_what_went_out(school):
    loan = make_loan(school=school)
    form = back_form(loan)
    assert form.is_valid(), form.errors
    assert form.counts() == {row["code"]: row["count"] for row in loan.accessories}


@pytest.mark.parametrize(
    ("change", "field"),
    [({"found": ""}, "found"), ({"to": "bench"}, "bench"), ({"all_here": ""}, "all_here"), ({"to": "moon"}, "to")],
)
def test_what_is_missing_at_the_return_is_said_at_its_field(school, change, field):
    assert field in back_form(make_loan(school=school), **change).errors


def test_what_the_walk_has_counted_stands_in_the_fields(school):
    form = TakeBackForm(loan=make_loan(school=school), benches=[], counted={"case": 0})
    assert form["back_case"].value() == 0
    assert form.is_part_counted


@pytest.mark.parametrize(
    ("typed_contact", "column"), [("555-0147", "phone"), ("lee@family.example", "email"), ("office", "contact")]
)
def test_a_new_guardians_phone_or_address_goes_where_it_can_be_used(instrument, typed, typed_contact, column):
    new = {
        "student": "",
        "new_name": "Quinn",
        "new_grade": "5",
        "new_guardian_name": "Lee",
        "new_guardian_contact": typed_contact,
    }
    form = lend_form(instrument, typed | new)
    assert form.is_valid(), form.errors
    [guardian] = form.new_student()["guardians"]
    assert getattr(guardian, column) == typed_contact


def test_for_a_member_of_staff_no_guardian_signs(instrument, typed):
    adult = make_student(school=instrument.school, who="staff", grade="")
    form = lend_form(instrument, typed | {"student": adult.pk, "guardian_signature": "", "guardian_signer": ""})
    assert form.is_valid(), form.errors
    assert set(form.cleaned_data["signatures"]) == {"student_signature"}


@pytest.mark.parametrize("who", ["staff", "group"])
def test_of_an_adult_only_the_name_is_asked_and_no_guardian_signs(instrument, typed, school, who):
    gone = {
        "student": "",
        "guardian_signature": "",
        "new_name": "Riverbend High",
        "new_who": who,
        "due": TODAY.isoformat(),
    }
    form = lend_form(instrument, typed | gone)
    assert form.is_valid(), form.errors
    assert form.new_student() == {
        "name": "Riverbend High",
        "grade": "",
        "level": "first_year",
        "guardians": [],
        "who": who,
    }
    assert (form.has_guardians, form.cleaned_data["due_on"]) == (False, TODAY)
    assert set(form.cleaned_data["signatures"]) == {"student_signature"}
    known = make_student(school=school, who=who, grade="", guardian_name="")
    listed = lend_form(instrument, typed | {"student": known.pk, "guardian_signature": ""})
    assert listed.is_valid(), listed.errors
    assert not listed.has_guardians
    assert 'data-adult="1"' in str(listed["student"])
