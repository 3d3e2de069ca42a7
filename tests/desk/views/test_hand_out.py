"""Hand-out day at its stations: found, handed out in one post, undone, printed; a lost race keeps the student."""

from __future__ import annotations

import re
from datetime import timedelta

import pypdfium2
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core.models import Event
from desk.pages.hand_out import station_url
from inventory.models import Inspection, Instrument, ListRemark, Purpose
from inventory.services.inspecting import finish_inspection
from loans.models import Loan
from loans.services import lock_assignment, renew_loan
from loans.tasks import print_agreement
from tests.factories import NOW, TODAY, make_instrument, make_ready_instrument, make_student, new_nonce
from tests.loans.makers import ink_address, make_agreement, make_assignment, make_loan, make_period, make_seat

STATION, BOARD, LEFT = reverse("desk:hand-out"), reverse("desk:hand-out-board"), reverse("desk:hand-out-left")


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    """The pages read the clock; the rows of these tests were made on NOW."""
    now = [NOW + timedelta(hours=1)]
    monkeypatch.setattr("django.utils.timezone.now", lambda: now[0])
    return now


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


@pytest.fixture
def line(school, director):
    """Robin is to get the trumpet."""
    student = make_student(school=school, name="Robin Reed", number="4711")
    make_seat(student=student, place=make_period(school=school, name="Period 3"), kind_code="trumpet")
    make_ready_instrument(school=school)
    assignment = make_assignment(school=school)
    lock_assignment(assignment=assignment, seen=assignment.revision, replaces=None, actor=director, at=NOW)
    return assignment.lines.select_related("instrument", "student").get()


def sent(page, **changed):
    """What a browser sends of the page as it stands."""
    form = page.context["form"]
    kept = {name: form[name].value() for name in ("nonce", "terms", "student", "signed", "due", "limits_reason")}
    return kept | {"all_here": "on" if form["all_here"].value() else ""} | changed


def to(line, number=""):
    return station_url(student=line.student_id, number=number or line.instrument.asset_number)


def landed(desk, **typed):
    """The address that what was typed leads to."""
    return desk.post(STATION, typed, follow=True).redirect_chain[-1][0]


def test_scanned_card_then_one_post_and_the_station_is_free_for_the_next(desk, line):
    page = desk.post(STATION, {"q": "4711"}, follow=True)
    assert page.redirect_chain[-1][0] == station_url(student=line.student_id)
    assert not any("4711" in address for address, _status in page.redirect_chain)
    assert f"Hand out {line.instrument.asset_number}" in page.text
    answer = desk.post(to(line), sent(page))
    loan = Loan.objects.get()
    assert answer.headers["Location"] == f"{STATION}?last={loan.pk}"
    assert (loan.student, loan.instrument) == (line.student, line.instrument)
    assert loan.hand_out.purpose == Purpose.HAND_OUT, "one tap writes the inspection"
    assert {row["code"] for row in loan.accessories} == set(line.instrument.accessories.values_list("code", flat=True))
    empty = desk.get(answer.headers["Location"]).text
    assert "Robin Reed" in empty
    assert "data-focus" in empty
    again = desk.post(to(line), sent(page))
    assert again.headers["Location"] == answer.headers["Location"], "tapped twice"


def test_letters_are_posted_and_answered_as_a_list(desk, line, school):
    make_student(school=school, name="Roberta Inglis")
    fragment = desk.post(STATION, {"q": "rob"}, headers={"HX-Request": "true"})
    assert "<html" not in fragment.text
    assert [row["title"] for row in fragment.context["lines"]] == ["Reed, Robin", "Inglis, Roberta"]
    assert line.instrument.asset_number in fragment.text
    whole = desk.post(STATION, {"q": "rob"}, follow=True)
    assert f'href="{station_url(student=line.student_id)}"' in whole.text, "without script"
    assert "No person or instrument" in desk.post(STATION, {"q": "zzz"}, follow=True).text
    nothing = desk.post(STATION, {"q": "", "student": line.student_id}, follow=True)
    assert nothing.redirect_chain[-1][0] == station_url(student=line.student_id), "the student stays"


def test_an_assigned_instrument_brings_its_student_and_another_waits_for_one(desk, line, school):
    assert landed(desk, q=line.instrument.asset_number) == to(line)
    spare = make_ready_instrument(school=school, kind_code="flute").asset_number
    assert landed(desk, q=spare) == station_url(number=spare)
    assert "Now the student" in desk.get(station_url(number=spare)).text
    assert landed(desk, q="robin", instrument=spare) == to(line, spare)


def test_the_districts_own_label_finds_it_too(desk, line, school):
    """Common practice, no source: the number that is not ours means one instrument as ours does."""
    Instrument.objects.filter(pk=line.instrument_id).update(second_number="Dist-41")
    make_ready_instrument(school=school, asset_number="TV-0041")  # ends in the same digits
    assert landed(desk, q="dist-41") == to(line)
    answer = desk.post(to(line), sent(desk.get(to(line))))
    assert answer.status_code == 302
    assert Loan.objects.get().instrument == line.instrument


def test_what_nobody_has_inspected_says_until_when_it_is_trusted_and_what_its_list_said(desk, line, school):
    spare = make_instrument(school=school, trusted_until=TODAY + timedelta(days=60))
    ListRemark.objects.create(instrument=spare, said_at=NOW, text="2nd valve sticks")
    page = desk.get(to(line, spare.asset_number))
    assert f"Hand out {spare.asset_number}" in page.text
    (condition,) = re.findall(r'id="condition">.*?</section>', page.text, re.DOTALL)
    assert "Taken on trust until" in condition
    assert "2nd valve sticks" in condition
    assert "Taken on trust" not in desk.get(to(line)).text


def test_who_loses_a_race_is_told_and_keeps_the_student(desk, line, school):
    spare = make_ready_instrument(school=school)
    page = desk.get(to(line))
    make_loan(instrument=line.instrument)
    refused = desk.post(to(line), sent(page))
    assert refused.status_code == 422
    assert "Someone else may have been faster" in refused.text
    assert "Robin Reed" in refused.text
    assert f'href="{to(line, spare.asset_number)}"' in refused.text
    assert Loan.objects.count() == 1
    page = desk.get(to(line, spare.asset_number))
    assert desk.post(to(line, spare.asset_number), sent(page)).status_code == 302


def test_a_student_who_has_one_of_the_kind_gets_a_second_by_a_tick_alone(desk, line, school):
    make_loan(student=line.student, instrument=make_ready_instrument(school=school))
    page = desk.get(to(line))
    assert "Lend a second one of this kind" in page.text
    refused = desk.post(to(line), sent(page))
    assert refused.status_code == 422
    assert "of the same kind" in refused.text
    assert desk.post(to(line), sent(page, second="on")).status_code == 302
    assert Loan.objects.open().filter(student=line.student).count() == 2


def test_signed_on_the_screen_at_the_station(desk, line):
    page = desk.get(to(line))
    signed = {
        "signed": "screen",
        "student_signature": ink_address(),
        "guardian_signature": ink_address(),
        "guardian_signer": "Gale",
    }
    desk.post(to(line), sent(page, **signed))
    assert Loan.objects.get().agreement.guardian_signer == "Gale"


def test_undone_within_a_minute_and_asked_later(desk, line, clock):
    page = desk.get(to(line))
    desk.post(to(line), sent(page))
    first = Loan.objects.get()
    undo = reverse("desk:hand-out-undo", args=[first.pk])
    assert f'action="{undo}"' in desk.get(f"{STATION}?last={first.pk}").text
    assert desk.post(undo).headers["Location"] == to(line)
    first.refresh_from_db()
    assert first.undone_at is not None
    assert Instrument.objects.get(pk=line.instrument_id).whereabouts == "in_store"
    assert desk.post(undo).headers["Location"] == STATION, "already"
    desk.post(to(line), sent(desk.get(to(line))))
    second = Loan.objects.open().get()
    clock[0] += timedelta(minutes=2)
    assert "Undo" not in desk.get(f"{STATION}?last={second.pk}").text
    answer = desk.post(reverse("desk:hand-out-undo", args=[second.pk]))
    assert answer.headers["Location"] == reverse("loans:undo", args=[second.pk])
    assert Loan.objects.open().exists()
    due_on = second.due_on + timedelta(days=9)
    new = renew_loan(loan=second, due_on=due_on, actor=second.actor, at=clock[0], nonce=new_nonce())
    answer = desk.post(reverse("desk:hand-out-undo", args=[new.pk]))
    assert answer.headers["Location"] == reverse("loans:undo", args=[new.pk]), "a renewal is undone on its own page"


def test_something_changed_leads_to_the_walk_and_back_to_the_student(desk, line, director):
    number = line.instrument.asset_number
    answer = desk.post(reverse("desk:hand-out-walk", args=[line.student_id, number]))
    walk = Inspection.objects.drafts().get()
    assert answer.headers["Location"] == reverse("inventory:walk", args=[walk.pk])
    finish_inspection(inspection=walk, actor=director, at=NOW + timedelta(minutes=70))
    go_on = desk.get(answer.headers["Location"]).context["result"]["next_url"]
    assert desk.get(go_on).headers["Location"] == to(line)
    assert desk.get(go_on).status_code == 200, "once"


def test_the_board_counts_and_names_nobody(desk, line):
    board = desk.get(BOARD)
    assert (board.context["handed"], board.context["expected"]) == (0, 1)
    assert "Period 3" in board.text
    assert "Robin" not in board.text
    make_loan(instrument=line.instrument, student=line.student)
    fragment = desk.get(BOARD, headers={"HX-Request": "true"})
    assert "<html" not in fragment.text
    assert "<strong>1</strong> of 1" in fragment.text
    assert 'hx-trigger="every 5s"' in fragment.text


def test_what_is_left_over_costs_the_same_for_one_and_for_many(desk, line, school, director):
    page = desk.get(LEFT)
    assert "Reed, Robin" in page.text
    assert line.instrument.asset_number in page.text
    with CaptureQueriesContext(connection) as one:
        desk.get(LEFT)
    for _ in range(4):
        make_seat(school=school, kind_code="flute")
        make_ready_instrument(school=school, kind_code="flute")
        make_ready_instrument(school=school, kind_code="tuba")
    again = make_assignment(school=school)
    lock_assignment(assignment=again, seen=again.revision, replaces=line.assignment_id, actor=director, at=NOW)
    with CaptureQueriesContext(connection) as many:
        assert desk.get(LEFT).context["to_come"] == 5
    assert len(many) <= len(one) + 1  # the names of rooms, where there are instruments to show


def test_the_days_agreements_are_one_pdf(desk, school, director):
    papers = reverse("desk:hand-out-papers")
    assert desk.post(papers).headers["Location"] == LEFT
    signed, *waiting = [
        make_loan(school=school, student=make_student(school=school, name=f"Player {name}"), actor=director)
        for name in ("Signed", "One", "Two")
    ]
    agreement = make_agreement(signed)
    make_loan(school=school, actor=director, at=NOW - timedelta(days=1), due_on=TODAY + timedelta(days=9))
    page = desk.post(papers, {"without": "0"}, follow=True)
    assert "The PDF of 1 signed agreement is still being made." in page.text
    assert "1 signed agreement is not among them yet" in page.text
    pdf = desk.post(papers, {"without": page.context["unmade_count"]})
    assert pdf["Content-Type"] == "application/pdf"
    with pypdfium2.PdfDocument(pdf.content) as document:
        text = "".join(page.get_textpage().get_text_range() for page in document)
    assert all(loan.instrument.asset_number in text for loan in waiting)
    assert signed.instrument.asset_number not in text, "not filed yet"
    print_agreement(agreement=agreement, actor=None, at=NOW)
    with pypdfium2.PdfDocument(desk.post(papers).content) as document:
        last = document[len(document) - 1].get_textpage().get_text_range()
    assert signed.instrument.asset_number in last
    told = Event.objects.filter(act="exported").order_by("number")
    assert [(event.after["what"], event.after["rows"]) for event in told] == [("agreements", 2), ("agreements", 3)]
    assert "not among them" not in desk.get(LEFT).text
