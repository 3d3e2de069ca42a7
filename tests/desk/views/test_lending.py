"""The pages over the counter: what they answer, what they refuse, what stays typed."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from desk.services.lending import begin_return_walk
from inventory.models import Inspection, Instrument, Purpose
from inventory.services.care import record_play_test, report_problem, require_hygiene
from inventory.services.inspecting import (
    answer_safety,
    count_accessories,
    finish_inspection,
    look_at_rest,
    record_finding,
    start_inspection,
)
from loans.models import Agreement, Loan, Student
from loans.services import return_loan
from repairs.models import Job
from tests.factories import NOW, make_bench, make_ready_instrument, make_school, make_student
from tests.loans.makers import ink, make_lending_form, make_loan, make_return_walk


@pytest.fixture(autouse=True)
def at_noon(monkeypatch):
    """The pages read the clock; the rows of these tests were made on NOW."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + timedelta(hours=1))


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


@pytest.fixture
def instrument(school):
    return make_ready_instrument(school=school)


def lend_url(instrument):
    return reverse("desk:lend-this", args=[instrument.asset_number])


def back_url(instrument):
    return reverse("desk:take-back", args=[instrument.asset_number])


@pytest.fixture
def typed(school):
    return make_lending_form(make_student(school=school, name="Robin Reed"))


def test_a_ready_instrument_is_lent_and_the_paper_is_there(desk, instrument, typed):
    answer = desk.post(lend_url(instrument), typed)
    loan = Loan.objects.get()
    assert answer.status_code == 302
    assert answer.headers["Location"] == reverse("loans:loan", args=[loan.pk])
    assert "The paper is being made." in desk.get(answer.headers["Location"]).text
    call_command("work", "--once")
    assert Agreement.objects.get().pdf_sha256
    paper = desk.get(reverse("loans:agreement", args=[loan.pk]))
    assert paper.content.startswith(b"%PDF-")


def test_the_page_shows_limits_large_and_asks_for_a_reason(desk, instrument, typed, director):
    record_play_test(instrument=instrument, result="limits", limits_text="Third valve <slow>.", actor=director, at=NOW)
    page = desk.get(lend_url(instrument)).text
    assert "It has limits" in page
    assert "Third valve &lt;slow&gt;." in page
    refused = desk.post(lend_url(instrument), typed)
    assert refused.status_code == 422
    assert "Say why it goes out despite its limits." in refused.text
    assert not Loan.objects.exists()
    desk.post(lend_url(instrument), typed | {"limits_reason": "Upper part."})
    assert Loan.objects.get().limits_reason == "Upper part."


def test_the_page_shows_what_was_reported_and_nobody_has_confirmed(desk, instrument, typed):
    report_problem(instrument=instrument, text="It <hisses>.", at=NOW)
    page = desk.get(lend_url(instrument)).text
    assert "nobody has looked yet" in page
    assert "It &lt;hisses&gt;." in page
    desk.post(lend_url(instrument), typed)
    assert Loan.objects.exists()


def test_what_was_repaired_is_not_signed_for(desk, instrument):
    last = instrument.inspections.get()
    kept = {"instrument": instrument, "severity": "light", "fault": "dent_small", "found_at": NOW}
    last.findings.create(part="bell_bow", closed_at=NOW, closed_because="repaired", **kept)
    last.findings.create(part="main_tuning_slide", **kept)
    findings = desk.get(lend_url(instrument)).context["findings"]
    assert [line.partition(":")[0] for line in findings] == ["Main tuning slide"]


def test_a_hand_out_inspection_under_way_is_what_will_be_signed(desk, instrument, director):
    walk = start_inspection(instrument=instrument, purpose=Purpose.HAND_OUT, actor=director, at=NOW)
    record_finding(inspection=walk, part="bell_bow", fault="dent_small", severity="light", actor=director, at=NOW)
    assert [line.partition(":")[0] for line in desk.get(lend_url(instrument)).context["findings"]] == [
        "Bell bow and bell stem"
    ]


def test_an_instrument_that_stays_in_shows_why_and_no_button(desk, instrument, typed, director):
    require_hygiene(instrument=instrument, actor=director, at=NOW)
    page = desk.get(lend_url(instrument)).text
    assert "It cannot go out" in page
    assert "Lend it" not in page
    assert desk.post(lend_url(instrument), typed).status_code == 422
    assert not Loan.objects.exists()


def test_who_has_one_of_the_kind_is_said_before_a_second_goes_out(desk, instrument, typed, school):
    make_loan(instrument=make_ready_instrument(school=school), student=Student.objects.get(pk=typed["student"]))
    refused = desk.post(lend_url(instrument), typed)
    assert refused.status_code == 422
    assert "of the same kind, since" in refused.text
    assert 'name="second"' in refused.text
    assert desk.post(lend_url(instrument), typed | {"second": "on"}).status_code == 302


def test_the_same_form_twice_is_one_loan(desk, instrument, typed):
    assert desk.post(lend_url(instrument), typed).status_code == 302
    assert desk.post(lend_url(instrument), typed).status_code == 302
    assert Loan.objects.count() == 1


def test_the_second_of_two_people_is_told_keeps_what_was_typed_and_is_offered_another(desk, instrument, typed, school):
    spare = make_ready_instrument(school=school)
    make_loan(instrument=instrument)
    new = typed | {"student": "", "new_name": "Quinn & Co", "new_grade": "5", "new_guardian_name": "Lee"}
    answer = desk.post(lend_url(instrument), new)
    assert answer.status_code == 422
    assert "Someone else may have been faster" in answer.text
    assert 'value="Quinn &amp; Co"' in answer.text
    assert typed["student_signature"] in answer.text
    assert f'formaction="{lend_url(spare)}"' in answer.text
    assert Loan.objects.count() == 1
    assert not Student.objects.filter(name="Quinn & Co").exists()
    assert desk.post(lend_url(spare), new).status_code == 302


def test_a_paper_signed_by_hand_needs_no_script(desk, instrument, typed):
    plain = typed | {"signed": "paper", "student_signature": "", "guardian_signature": ""}
    assert desk.post(lend_url(instrument), plain).status_code == 422
    desk.post(lend_url(instrument), plain | {"scan": SimpleUploadedFile("scan.jpg", ink())})
    agreement = Agreement.objects.get()
    assert (agreement.signed, bool(agreement.scan)) == ("paper", True)
    scan = desk.get(reverse("loans:scan", args=[agreement.loan_id]))
    assert scan.headers["Content-Disposition"].startswith("attachment")


@pytest.mark.parametrize("name", ['"><script>alert(1)</script>', "O'Neil \u202eesrever", "x" * 10_000])
def test_odd_names_are_shown_as_text_or_refused_and_never_run(desk, instrument, typed, name):
    answer = desk.post(lend_url(instrument), typed | {"student": "", "new_name": name, "new_grade": "5"})
    page = answer.text if answer.status_code == 422 else desk.get(answer.headers["Location"]).text
    assert "<script>alert" not in page
    assert answer.status_code == (422 if len(name) > 120 else 302)


def test_another_schools_instrument_or_student_does_not_exist_here(client, stranger, instrument, typed):
    client.force_login(stranger)
    for url in (lend_url(instrument), back_url(instrument)):
        assert client.get(url).status_code == 404
        assert client.post(url, typed).status_code == 404
    own = make_ready_instrument(school=stranger.staff_roles.get().school)
    assert client.post(lend_url(own), typed).status_code == 422
    assert not Loan.objects.exists()


def test_a_date_in_the_past_is_refused_in_words(desk, instrument, typed):
    answer = desk.post(lend_url(instrument), typed | {"due": "other", "due_other": "2020-01-01"})
    assert answer.status_code == 422
    assert "cannot be before the loan begins" in answer.text


def test_the_start_page_lists_what_may_go_out_here(desk, instrument, school):
    make_ready_instrument(school=make_school(), asset_number="ELSEWHERE")
    make_loan(instrument=make_ready_instrument(school=school, asset_number="OUT"))
    page = desk.get(reverse("desk:lend")).text
    assert instrument.asset_number in page
    assert "ELSEWHERE" not in page
    assert "OUT<" not in page


def test_from_a_students_page_the_student_is_chosen_already(desk, instrument, school):
    student = make_student(school=school)
    page = desk.get(reverse("desk:lend"), {"student": student.pk}).text
    assert f"{lend_url(instrument)}?student={student.pk}" in page
    assert f'<option value="{student.pk}" selected' in desk.get(lend_url(instrument), {"student": student.pk}).text


def test_the_hand_out_walk_begins_filled_in(desk, instrument):
    answer = desk.post(reverse("desk:lend-walk", args=[instrument.asset_number]))
    draft = Inspection.objects.get(purpose=Purpose.HAND_OUT)
    assert answer.headers["Location"] == reverse("inventory:walk", args=[draft.pk])
    assert draft.looks.count() == len(instrument.kind.parts_for(instrument.options))
    assert reverse("inventory:walk", args=[draft.pk]) in desk.get(lend_url(instrument)).text


def test_lending_costs_the_same_with_few_and_with_many_students(desk, instrument, school):
    desk.get(lend_url(instrument))
    with CaptureQueriesContext(connection) as few:
        desk.get(lend_url(instrument))
    for _ in range(30):
        make_student(school=school)
    with CaptureQueriesContext(connection) as many:
        desk.get(lend_url(instrument))
    assert len(many) == len(few) <= 20


@pytest.fixture
def loan(instrument, director):
    return make_loan(instrument=instrument, actor=director)


def test_same_and_all_here_is_back_in_store_and_waits_for_cleaning(desk, loan, instrument):
    answer = desk.post(back_url(instrument), {"found": "same", "all_here": "on", "to": "store"})
    assert answer.headers["Location"] == reverse("loans:loan", args=[loan.pk])
    assert Loan.objects.get().returned_at
    page = desk.get(answer.headers["Location"]).text
    assert "Clean it before the next player" in page
    assert reverse("inventory:hygiene", args=[instrument.asset_number]) in page


def test_a_return_that_says_nothing_is_asked_again(desk, loan, instrument):
    answer = desk.post(back_url(instrument), {"to": "store"})
    assert answer.status_code == 422
    assert "Say how it came back" in answer.text
    assert Loan.objects.get().returned_at is None


def test_the_walk_at_return_is_compared_with_the_hand_out(desk, loan, instrument):
    answer = desk.post(reverse("desk:take-back-walk", args=[instrument.asset_number]))
    draft = Inspection.objects.get(purpose=Purpose.RETURN)
    assert answer.headers["Location"] == reverse("inventory:walk", args=[draft.pk])
    assert draft.compared_with == loan.hand_out
    assert "Continue the inspection" in desk.get(back_url(instrument)).text


def test_what_the_walk_counted_and_found_stands_on_the_page(desk, loan, instrument, director):
    at = NOW + timedelta(minutes=30)
    walk = begin_return_walk(loan=loan, actor=director, at=at)
    answer_safety(inspection=walk, is_safe=True, actor=director, at=at)
    record_finding(inspection=walk, part="bell_bow", fault="dent_small", severity="severe", actor=director, at=at)
    look_at_rest(inspection=walk, actor=director, at=at)
    count_accessories(
        instrument=instrument, counts={"case": 1, "mouthpiece": 0}, actor=director, at=at, inspection=walk
    )
    finish_inspection(inspection=walk, actor=director, at=at)
    page = desk.get(back_url(instrument)).text
    assert "1 new." in page
    assert re.search(r'name="back_mouthpiece"[^>]* value="0"', page)
    assert 'name="found" value="walked"' in page


def test_as_inspected_without_a_finished_walk_is_refused(desk, loan, instrument):
    answer = desk.post(back_url(instrument), {"found": "walked", "all_here": "on", "to": "store"})
    assert answer.status_code == 422
    assert "is not finished" in answer.text
    assert Loan.objects.get().returned_at is None


def test_straight_to_the_bench_opens_a_job(desk, loan, instrument, school):
    bench = make_bench(school=school)
    assert "To the bench" in desk.get(back_url(instrument)).text
    desk.post(
        back_url(instrument),
        {"found": "same", "all_here": "on", "to": "bench", "bench": bench.pk, "because": "rattles"},
    )
    assert Job.objects.get().because == "rattles"
    assert Instrument.objects.get(pk=instrument.pk).whereabouts == "on_bench"


def test_another_schools_bench_cannot_be_named(desk, loan, instrument):
    bench = make_bench(school=make_school())
    answer = desk.post(back_url(instrument), {"found": "same", "all_here": "on", "to": "bench", "bench": bench.pk})
    assert answer.status_code == 422
    assert Loan.objects.get().returned_at is None


def test_a_page_left_open_while_another_took_it_back_says_so(desk, loan, instrument, director):
    at = NOW + timedelta(minutes=30)
    return_loan(loan=loan, taken_back=make_return_walk(loan, at=at), accessories_back={}, actor=director, at=at)
    answer = desk.post(back_url(instrument), {"found": "same", "all_here": "on", "to": "store"}, follow=True)
    assert "was already taken back. Nothing was changed." in answer.text
    assert Inspection.objects.filter(purpose=Purpose.RETURN).count() == 1


def test_an_instrument_that_is_not_out_says_where_it_is(desk, instrument):
    page = desk.get(back_url(instrument)).text
    assert "It is not out on loan" in page
    assert "in storage" in page


@pytest.mark.parametrize(
    "sent", ["abc", "²", "9" * 40, "-1", ""], ids=["letters", "superscript", "huge", "negative", "none"]
)
def test_terms_that_are_not_there_are_never_signed(desk, instrument, typed, sent):
    answer = desk.post(lend_url(instrument), typed | {"terms": sent})
    assert answer.status_code == 422
    assert "Reload it and read them" in answer.text
    assert not Loan.objects.exists()


@pytest.mark.parametrize("sent", ["abc", "²", "9" * 40, "-1"], ids=["letters", "superscript", "huge", "negative"])
def test_a_student_that_is_no_number_is_passed_over(desk, instrument, sent):
    assert desk.get(reverse("desk:lend"), {"student": sent}).status_code == 200


def test_a_colleague_borrows_for_today_without_grade_or_guardian(desk, instrument, typed, school):
    colleague = make_student(school=school, name="Kim Alder", who="staff", grade="", guardian_name="")
    page = desk.get(lend_url(instrument), {"student": colleague.pk}).text
    assert re.search(r"<div\s+data-of-guardian\s+hidden", page)
    today = timezone.localdate().isoformat()
    said = typed | {"student": colleague.pk, "guardian_signature": "", "guardian_signer": "", "due": today}
    answer = desk.post(lend_url(instrument), said, follow=True)
    assert Loan.objects.get().due_on.isoformat() == today
    assert "grade" not in desk.get(back_url(instrument)).text.partition("<h1>")[2].partition("</p>")[0]
    for name, only, other in (("loans:list", "staff", "group"), ("loans:students", "staff", "student")):
        found = desk.post(reverse(name), {"who": only, "state": "all"}, follow=True).text
        assert "Alder, Kim" in found
        assert "Alder, Kim" not in desk.post(reverse(name), {"who": other, "state": "all"}, follow=True).text
    assert answer.status_code == 200
