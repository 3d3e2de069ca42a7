"""Each thing is told once, by mail or by letter; what came back is told by letter."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from core.models import Event, Revision, User
from core.traces import log_differences
from inventory.services.care import report_problem
from loans.exceptions import NoticeRefusedError
from loans.models import Guardian, Loan, Notice
from loans.rules.notices import Owed
from loans.services import change_due_dates, change_student, undo_loan
from loans.services.notices import (
    drop_notice,
    make_notice,
    make_overdue_letters,
    make_reminders,
    note_came_back,
    note_mailed,
    note_printed,
    tell_of_report,
    undo_came_back,
)
from loans.services.students import guardian_given
from tests.contests import at_once
from tests.factories import NOW, TODAY, make_student
from tests.loans.makers import make_agreement, make_loan, refused

pytestmark = pytest.mark.django_db
DUE = TODAY + timedelta(days=60)


@pytest.fixture
def loan(school, director, settings) -> Loan:
    settings.MAIL_IS_SET = True
    student = make_student(
        school=school, name="Robin Reed", guardian_name="Gale Reed", guardian_contact="gale@family.example"
    )
    loan = make_loan(school=school, student=student, actor=director, due_on=DUE)
    make_agreement(loan)
    return loan


def run(days: int, *, since=DUE) -> list[Notice]:
    return make_reminders(today=since + timedelta(days=days), actor=None, at=NOW)


def test_a_run_makes_what_is_owed_and_the_next_one_nothing(loan):
    (notice,) = run(-7)
    assert (notice.sort, notice.way, notice.about_on) == ("due_soon", "email", DUE)
    assert run(-7) == run(-6) == []
    assert [(one.sort, one.round) for one in run(3)] == [("overdue", 1)]
    assert [(one.sort, one.round) for one in run(17)] == [("overdue", 2)]
    assert run(17) == []


def test_a_reminder_takes_the_place_of_one_that_still_waits(loan, settings):
    settings.MAIL_IS_SET = False
    (soon,), (_first,), (second,) = run(-7), run(3), run(17)
    assert list(Notice.objects.to_print().order_by("pk")) == [soon, second]
    assert run(17) == run(18) == []
    note_printed(notices=[second], actor=loan.actor, at=NOW)
    (third,) = run(31)
    assert list(Notice.objects.to_print().order_by("pk")) == [soon, third], "printed, it stays told"
    assert Notice.objects.filter(dropped_at=None).count() == 3
    assert [line for line in log_differences() if "notice" in line] == []


def test_another_due_date_is_another_thing_to_tell(loan, director):
    run(-7)
    later = DUE + timedelta(days=30)
    change_due_dates(loans=[loan], due_on=later, actor=director, at=NOW)
    assert run(-7) == []
    assert [one.about_on for one in run(-7, since=later)] == [later]


def test_only_families_of_what_is_out_are_told(loan, director):
    undo_loan(loan=loan, left_the_room=False, actor=director, at=NOW)
    assert run(3) == []
    owed = Owed("overdue", DUE, 1)
    assert make_notice(loan=loan, owed=owed, actor=None, at=NOW) is None


def test_a_signature_is_asked_for_until_it_is_there_and_not_where_the_paper_is_elsewhere(school, director):
    loan = make_loan(school=school, actor=director, due_on=DUE)
    elsewhere = make_loan(school=school, actor=director, due_on=DUE)
    Loan.objects.filter(pk=elsewhere.pk).update(is_signed_elsewhere=True)
    assert [(one.loan, one.sort) for one in run(7, since=TODAY)] == [(loan, "signature")]
    make_agreement(loan)
    assert run(21, since=TODAY) == []


def test_who_has_no_mail_gets_a_letter_and_an_adult_too(school, director, settings):
    settings.MAIL_IS_SET = True
    student = make_student(school=school, guardian_name="Gale Reed")
    Guardian.objects.filter(student=student).update(email="", phone="555-0100")
    adult = make_student(school=school, who="staff", grade="", name="Pat Player")
    for who in (student, adult):
        make_loan(school=school, student=who, actor=director, due_on=DUE)
    Loan.objects.update(is_signed_elsewhere=True)
    made = {one.loan.student_id: one for one in run(3)}
    assert [made[who.pk].way for who in (student, adult)] == ["letter", "letter"]
    assert made[adult.pk].guardian is None


def test_mail_that_came_back_becomes_a_letter_and_so_does_the_next_thing(loan, director):
    (mailed,) = run(3)
    note_mailed(notice=mailed, actor=None, at=NOW)
    Loan.objects.filter(pk=loan.pk).update(due_on=TODAY - timedelta(days=3), lent_on=TODAY - timedelta(days=90))
    Notice.objects.update(about_on=TODAY - timedelta(days=3))
    letter = note_came_back(notice=mailed, actor=director, at=NOW)
    assert (letter.way, letter.sort, letter.round) == ("letter", "overdue", 1)
    assert note_came_back(notice=mailed, actor=director, at=NOW) is None  # a second tap
    assert Notice.objects.count() == 2
    assert [one.way for one in run(14, since=TODAY)] == ["letter"]


def test_what_came_back_by_mistake_arrived_after_all(loan, director):
    """The letter in its place is left unsent, mail goes out again, and both acts are in the log."""
    (mailed,) = run(3)
    note_mailed(notice=mailed, actor=None, at=NOW)
    at = NOW + timedelta(days=64)
    letter = note_came_back(notice=mailed, actor=director, at=at)
    assert undo_came_back(notice=mailed, actor=director, at=at) == letter
    assert undo_came_back(notice=mailed, actor=director, at=at) is None  # a second tap
    mailed.refresh_from_db()
    letter.refresh_from_db()
    assert (mailed.came_back_at, mailed.came_back_to, letter.dropped_at) == (None, None, at)
    assert [event.actor for event in Event.objects.filter(act__startswith="notice_came_back")] == [director, director]
    assert run(3) == []
    assert [one.way for one in run(17)] == ["email"]
    letter = note_came_back(notice=mailed, actor=director, at=at)
    note_printed(notices=[letter], actor=director, at=at)
    assert "notified again" in refused(undo_came_back, NoticeRefusedError, notice=mailed, actor=director, at=at)
    assert undo_came_back(notice=note_back(letter, director), actor=director, at=at) is None
    assert Guardian.objects.get(student=loan.student).mail_came_back
    assert [line for line in log_differences() if "notice" in line] == []


def note_back(letter: Notice, actor: User) -> Notice:
    note_came_back(notice=letter, actor=actor, at=NOW)
    return letter


def test_mail_stays_away_from_an_address_that_other_mail_came_back_from(loan, director):
    first, second = (run(days)[0] for days in (-7, 3))
    for one in (first, second):
        note_mailed(notice=one, actor=None, at=NOW)
        note_came_back(notice=one, actor=director, at=NOW)
    undo_came_back(notice=second, actor=director, at=NOW)
    assert Guardian.objects.get(student=loan.student).mail_came_back
    undo_came_back(notice=first, actor=director, at=NOW)
    assert not Guardian.objects.get(student=loan.student).mail_came_back


def test_what_came_back_from_the_address_before_says_nothing_of_the_new_one(loan, director):
    """Neither while a slip at the new address is undone, nor when it is noted after the change."""
    first, second = (run(days)[0] for days in (-7, 3))
    for one in (first, second):
        note_mailed(notice=one, actor=None, at=NOW)
    note_came_back(notice=first, actor=director, at=NOW)
    guardian = Guardian.objects.get(student=loan.student)
    given, later = replace(guardian_given(guardian), email="gale@new.example"), NOW + timedelta(hours=1)
    student = loan.student
    change_student(
        student=student, name=student.name, grade=student.grade, level=student.level, guardians=[given],
        actor=director, at=later,
    )  # fmt: skip
    note_came_back(notice=second, actor=director, at=later + timedelta(hours=1))
    assert not Guardian.objects.get(student=student).mail_came_back, "the second went to the address before"
    (third,) = run(17)
    note_mailed(notice=third, actor=None, at=later + timedelta(hours=2))
    note_came_back(notice=third, actor=director, at=later + timedelta(hours=3))
    assert Guardian.objects.get(student=student).mail_came_back
    undo_came_back(notice=third, actor=director, at=later + timedelta(hours=4))
    assert not Guardian.objects.get(student=student).mail_came_back
    assert [one.way for one in run(31)] == ["email"]


def test_what_the_mail_server_refused_did_not_arrive(loan, director):
    (waits,) = run(-7)
    note_came_back(notice=waits, actor=None, at=NOW)
    refused(undo_came_back, NoticeRefusedError, notice=waits, actor=director, at=NOW)


def test_what_was_left_unsent_is_told_once_it_is_true_again(loan):
    (waits,) = run(3)
    drop_notice(notice=waits, actor=None, at=NOW)
    assert [(one.sort, one.round) for one in run(3)] == [("overdue", 1)]
    assert run(3) == []


def test_another_address_starts_anew(loan, director):
    (mailed,) = run(-7)
    note_mailed(notice=mailed, actor=None, at=NOW)
    note_came_back(notice=mailed, actor=director, at=NOW)
    guardian = Guardian.objects.get(student=loan.student)
    assert guardian.mail_came_back
    given = replace(guardian_given(guardian), email="gale@new.example")
    student = loan.student
    change_student(
        student=student, name=student.name, grade=student.grade, level=student.level, guardians=[given],
        actor=director, at=NOW,
    )  # fmt: skip
    assert [one.way for one in run(3)] == ["email"]


def test_a_letter_that_came_back_is_not_printed_every_night_again(loan, director):
    Guardian.objects.update(email="")
    (letter,) = run(3)
    assert note_printed(notices=[letter], actor=director, at=NOW) == 1
    assert note_printed(notices=[letter], actor=director, at=NOW) == 0
    assert note_came_back(notice=letter, actor=director, at=NOW) is None
    assert run(3) == []


def test_a_letter_for_what_is_missing_and_a_reminder_tell_it_once(loan, school, director):
    """Whichever of the two came first; the letter of another due date is another thing to tell."""
    missing = make_loan(school=school, actor=director, due_on=DUE)
    make_agreement(missing)

    def letters(days: int, *loans: Loan) -> list[tuple[Loan, int]]:
        made = make_overdue_letters(loans=loans, today=DUE + timedelta(days=days), actor=director, at=NOW)
        assert {one.way for one in made} <= {"letter"}
        return [(one.loan, one.round) for one in made]

    assert letters(1, missing) == letters(2, missing) == [(missing, 1)]
    assert [(one.loan, one.way) for one in run(3)] == [(loan, "email")]
    assert letters(3, loan, missing) == [(missing, 1)]
    assert {(one.loan, one.round) for one in run(17)} == {(loan, 2), (missing, 2)}
    assert letters(31, missing) == [(missing, 2)]  # the letter that waits to be printed
    assert Notice.objects.filter(sort="overdue").count() == 4
    later = DUE + timedelta(days=30)
    change_due_dates(loans=[missing], due_on=later, actor=director, at=NOW)
    missing.refresh_from_db()
    assert letters(31, missing) == [(missing, 1)]
    assert [line for line in log_differences() if "notice" in line] == []


def test_what_was_not_sent_cannot_have_come_back(loan, director):
    (waits,) = run(-7)
    refused(note_came_back, NoticeRefusedError, notice=waits, actor=director, at=NOW)
    drop_notice(notice=waits, actor=None, at=NOW)
    refused(note_came_back, NoticeRefusedError, notice=waits, actor=None, at=NOW)
    note_mailed(notice=waits, actor=None, at=NOW)
    waits.refresh_from_db()
    assert waits.handed_at is None


def test_the_log_names_nobody_and_agrees_with_the_rows(loan, director):
    (mailed,) = run(-7)
    note_mailed(notice=mailed, actor=None, at=NOW)
    note_came_back(notice=mailed, actor=director, at=NOW)
    events = Event.objects.filter(act__startswith="notice_")
    assert {event.tenant for event in events} == {loan.school_id}
    told = str([*events.values_list("after"), *Revision.objects.values_list("after")])
    assert "gale" not in told.lower()
    assert "Reed" not in told
    assert [line for line in log_differences() if "notice" in line] == []


def test_a_report_is_told_once(loan, director):
    report = report_problem(instrument=loan.instrument, text="A valve sticks.", at=NOW)
    notice = tell_of_report(loan=loan, report=report, facts={"bring_on": "2026-09-21"}, actor=director, at=NOW)
    assert (notice.sort, notice.about_on, notice.facts) == ("report", TODAY, {"bring_on": "2026-09-21"})
    assert tell_of_report(loan=loan, report=report, facts={}, actor=director, at=NOW) is None


@pytest.mark.django_db(transaction=True)
def test_two_runs_at_once_tell_it_once(loan):
    at_once(lambda: run(-7), lambda: run(-7))
    assert Notice.objects.count() == 1
