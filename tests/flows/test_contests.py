"""Two people at once, on real connections: nobody meets a fault, and what is stored agrees with what happened."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from functools import partial
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from core.exceptions import RefusedError
from core.models import Event, PostedForm, User
from desk.services.lending import lend_at_desk, take_back_at_desk
from inventory.models import Instrument, PlayTest, ProblemReport, Room, School, Tag
from inventory.services.care import answer_report, confirm_report, record_play_test, report_problem, source_of
from inventory.services.labels import issue_missing_tags
from inventory.services.people import add_room
from inventory.services.registering import change_instrument, issue_tag, register_instrument
from loans.models import Agreement, Loan, Student
from loans.selectors.papers import waiting_papers
from loans.services import Signing, add_student
from repairs.models import Attempt, StockItem, StockMove
from repairs.selectors.approvals import approval_differences
from repairs.selectors.orders import latest_to_undo, order_events
from repairs.services.jobs import acknowledge_cautions, add_finding_to_job, do_step
from repairs.services.orders import approve_order, note_estimate, refuse_order, take_back
from repairs.services.stock import (
    add_stock_item,
    move_stock,
    receive_stock,
    reverse_stock_move,
)
from tests.contests import A_FEW, Act, at_once, contests, went_well, wrong_after
from tests.factories import (
    NOW,
    TODAY,
    make_bench,
    make_director,
    make_ready_instrument,
    make_school,
    make_student,
    new_nonce,
)
from tests.loans.makers import all_back, all_counts, ink, make_lending_form, make_loan
from tests.opening import differences
from tests.repairs.makers import LATER, make_job, next_step
from tests.repairs.money_makers import make_item, make_order

pytestmark = pytest.mark.django_db(transaction=True)


def signing() -> Signing:
    return Signing(signed="screen", student_signature=ink(), guardian_signature=ink(), guardian_signer="Gale Guardian")


def lend(instrument: Instrument, student: Student, actor: User, **more: Any) -> Act:
    asked = {
        "instrument": instrument, "student": student, "due_on": TODAY + timedelta(days=30),
        "accessories": all_counts(instrument), "signing": signing(), "actor": actor, "at": NOW + timedelta(hours=1),
        "nonce": new_nonce(),
    } | more  # fmt: skip
    return lambda: lend_at_desk(**asked)


def edit(instrument: Instrument, actor: User, **columns: Any) -> Act:
    return lambda: change_instrument(instrument=instrument, actor=actor, at=NOW + timedelta(hours=1), **columns)


def lend_and_edit() -> None:
    instrument = make_ready_instrument()
    actor, student = make_director(instrument.school), make_student(school=instrument.school)
    edits = [
        edit(instrument, actor, **columns) for columns in ({"notes": "A"}, {"model": "B"}, {"funding_source": "C"})
    ]
    answers = at_once(lend(instrument, student, actor), *edits)
    now = Instrument.objects.get(pk=instrument.pk)
    assert (now.notes, now.model, now.funding_source) == ("A", "B", "C")
    assert len(went_well(answers)) == 4
    assert now.whereabouts == "with_student"


def take_back_and_edit() -> None:
    loan = make_loan()
    actor = loan.actor
    back = all_back(loan)
    answers = at_once(
        lambda: take_back_at_desk(loan=loan, accessories_back=back, actor=actor, at=NOW + timedelta(days=2)),
        edit(loan.instrument, actor, notes="Scratched"),
    )
    now = Instrument.objects.get(pk=loan.instrument_id)
    assert len(went_well(answers)) == 2
    assert (now.whereabouts, now.notes) == ("in_store", "Scratched")


def lend_and_lend() -> None:
    instrument = make_ready_instrument()
    actor = make_director(instrument.school)
    students = [make_student(school=instrument.school) for _ in range(2)]
    answers = at_once(*(lend(instrument, student, actor) for student in students))
    assert len(went_well(answers)) == 1
    assert Loan.objects.filter(instrument=instrument).count() == 1


def report_and_play_test() -> None:
    instrument = make_ready_instrument()
    actor = make_director(instrument.school)
    at_once(
        lambda: report_problem(instrument=instrument, text="It buzzes.", actor=actor, at=NOW + timedelta(hours=1)),
        lambda: record_play_test(
            instrument=instrument, result="fail", failed_notes=["C4"], actor=actor, at=NOW + timedelta(hours=1)
        ),
    )
    now = Instrument.objects.get(pk=instrument.pk)
    assert {reason["code"] for reason in now.readiness_reasons} >= {"open_report"} or now.verdict == "does_not_play"
    assert (
        ProblemReport.objects.filter(instrument=instrument).count()
        == PlayTest.objects.filter(instrument=instrument).count()
        == 1
    )


def nine_reports_where_five_are_allowed() -> None:
    instruments = [make_ready_instrument() for _ in range(3)]
    source = source_of(f"2001:db8:{random.getrandbits(16):x}:{random.getrandbits(16):x}::7")
    answers = at_once(
        *(
            partial(report_problem, instrument=instruments[number % 3], text="It buzzes.", at=NOW, source=source)
            for number in range(9)
        )
    )
    assert len(went_well(answers)) == settings.REPORTS_PER_HOUR == 5
    assert ProblemReport.objects.filter(source=source).count() == 5


def confirm_and_answer() -> None:
    instrument = make_ready_instrument()
    actor = make_director(instrument.school)
    report = report_problem(instrument=instrument, text="It buzzes.", at=NOW)
    at_once(
        lambda: confirm_report(report=report, actor=actor, at=NOW),
        lambda: answer_report(report=report, actor=actor, at=NOW, answer="Tightened."),
    )
    assert Instrument.objects.get(pk=instrument.pk).readiness == "may_go_out"


def step_and_finding() -> None:
    job = make_job(school=make_school())
    actor, step = job.opened_by, next_step(job)
    acknowledge_cautions(job=job, step_key=step.key, actor=actor, at=LATER)
    outcome = "still_stuck" if step.rung else "done"
    answers = at_once(
        lambda: do_step(job=job, step_key=step.key, outcome=outcome, actor=actor, at=LATER, nonce=new_nonce()),
        lambda: add_finding_to_job(
            job=job, part="bell", fault="dent_small", severity="light", actor=actor, at=LATER, nonce=new_nonce()
        ),
    )
    assert len(went_well(answers)) == 2


def two_rooms() -> None:
    school = make_school()
    rooms = at_once(*[lambda: add_room(school=school, name="Annex", actor=None, at=NOW)] * 4)
    assert {room.pk for room in rooms} == {Room.objects.get(school=school).pk}


def two_tags() -> None:
    instruments = [make_ready_instrument(issue_tag_too=False) for _ in range(3)]
    at_once(
        *[lambda: issue_missing_tags(instruments=instruments, actor=None, at=NOW)] * 2,
        lambda: issue_tag(instrument=instruments[1], actor=None, at=NOW),
        lambda: issue_missing_tags(instruments=instruments[::-1], actor=None, at=NOW),
    )
    assert [Tag.objects.live().filter(instrument=instrument).count() for instrument in instruments] == [1, 1, 1]


def free_serials(*serials: str) -> None:
    """So that the next round may type the same ones."""
    for instrument in Instrument.objects.filter(serial__in=serials):
        change_instrument(instrument=instrument, actor=None, at=NOW + timedelta(hours=2), serial="")


def two_serials() -> None:
    school = make_school()

    def register() -> Instrument:
        return register_instrument(
            kind_code="trumpet", school=school, maker="Plain Brass Works", serial="X1", actor=None, at=NOW
        )

    assert len(went_well(at_once(register, register, register))) == 1
    assert Instrument.objects.filter(serial="X1").count() == 1
    free_serials("X1")


@contests(
    lend_and_edit,
    take_back_and_edit,
    lend_and_lend,
    report_and_play_test,
    nine_reports_where_five_are_allowed,
    confirm_and_answer,
    step_and_finding,
    two_rooms,
    two_tags,
    two_serials,
)
def test_two_at_once_meet_no_fault_and_leave_nothing_to_verify(contest, rounds):
    assert wrong_after(contest, rounds) == []


def forms(school: School) -> dict[str, tuple[Act, Callable[[], int]]]:
    """Each form that makes something: the service with its key, and how many rows it has made."""
    actor, nonce = make_director(school), new_nonce()
    instrument, bench, job = make_ready_instrument(school=school), make_bench(school=school), make_job(school=school)
    step = next_step(job)
    for one in (actor, job.opened_by):
        acknowledge_cautions(job=job, step_key=step.key, actor=one, at=LATER)
    said = {"actor": actor, "at": NOW + timedelta(hours=1), "nonce": nonce}
    item = add_stock_item(bench=bench, name="Screw", unit="pieces", actor=actor, at=NOW)
    stored, other = make_item(bench=bench, quantity="5"), make_bench(school=school)
    known = stored.moves.get()
    PostedForm.objects.all().delete()
    before = {model: model.objects.count() for model in (Instrument, StockItem, Student)}
    return {
        "lend": (lend(instrument, make_student(school=school), actor), Loan.objects.count),
        "register": (
            lambda: register_instrument(
                kind_code="flute", school=school, once=str(nonce), actor=actor, at=NOW
            ),
            lambda: Instrument.objects.count() - before[Instrument],
        ),
        "play test": (
            lambda: record_play_test(instrument=instrument, result="pass", **said), PlayTest.objects.count
        ),
        "report": (
            lambda: report_problem(instrument=instrument, text="It buzzes.", at=NOW, nonce=nonce),
            ProblemReport.objects.count,
        ),
        "tag": (
            lambda: issue_tag(instrument=instrument, **said),
            lambda: Tag.objects.filter(instrument=instrument).count() - 1,  # beside the one it was registered with
        ),
        "student": (
            lambda: add_student(school=school, name="Sam Reed", grade="6", **said),
            lambda: Student.objects.filter(name="Sam Reed").count(),
        ),
        "stock item": (
            lambda: add_stock_item(bench=bench, name="Spring", unit="pieces", **said),
            lambda: StockItem.objects.count() - before[StockItem],
        ),
        "stock received": (lambda: receive_stock(item=item, quantity=2, **said), item.moves.count),
        "stock reversed": (
            lambda: reverse_stock_move(move=known, because="Slip", **said),
            StockMove.objects.filter(why="reversed").count,
        ),
        "stock moved": (
            lambda: move_stock(item=stored, to=other, quantity=2, **said),
            StockMove.objects.filter(moved_from=None, why="moved").count,
        ),
        "step": (
            lambda: do_step(
                job=job, step_key=step.key, outcome="still_stuck" if step.rung else "done", actor=job.opened_by,
                at=LATER, nonce=nonce,
            ).attempt,
            Attempt.objects.count,
        ),
    }  # fmt: skip


@pytest.mark.parametrize(
    "name",
    [
        "lend",
        "register",
        "play test",
        "report",
        "tag",
        "student",
        "stock item",
        "stock received",
        "stock reversed",
        "stock moved",
        "step",
    ],
)
def test_the_same_form_posted_four_times_at_once_leads_all_to_the_same_row(name):
    post, made = forms(make_school())[name]
    answers = at_once(post, post, post, post)
    assert len({getattr(answer, "pk", answer) for answer in answers}) == 1, answers
    assert post() == answers[0]
    assert made() == 1
    assert PostedForm.objects.count() == 1
    assert differences()[1] == []


def browsers_of(user: User, *, count: int) -> list[Client]:
    browsers = [Client(raise_request_exception=False) for _ in range(count)]
    for browser in browsers:
        browser.force_login(user)
    return browsers


def posted_at_once(user: User, *pages: tuple[str, Instrument, dict[str, Any]]) -> list[int]:
    """Post each page by a browser of its own, all at the same moment, and return the status codes."""
    browsers = browsers_of(user, count=len(pages))
    addresses = [reverse(name, args=[instrument.asset_number]) for name, instrument, _ in pages]
    posts = zip(browsers, addresses, pages, strict=True)
    acts = [lambda browser=browser, to=to, typed=page[2]: browser.post(to, typed) for browser, to, page in posts]
    return [answer.status_code for answer in at_once(*acts)]


EDITED = {"maker": "Plain Brass Works", "serial": "77", "notes": "Scratched"}
RETURNED = {"found": "same", "all_here": "on", "to": "store"}


def pages_lend_and_edit() -> None:
    instrument = make_ready_instrument()
    typed = make_lending_form(make_student(school=instrument.school))
    answers = posted_at_once(
        make_director(instrument.school), ("desk:lend-this", instrument, typed), ("inventory:edit", instrument, EDITED)
    )
    now = Instrument.objects.get(pk=instrument.pk)
    assert answers == [302, 302]
    assert (now.whereabouts, now.serial, now.notes) == ("with_student", "77", "Scratched")
    assert Agreement.objects.get(loan__instrument=instrument).pk in waiting_papers()
    call_command("work", "--once")
    assert Agreement.objects.get(loan__instrument=instrument).pdf_sha256
    free_serials("77")


def pages_take_back_and_edit() -> None:
    loan = make_loan()
    instrument = loan.instrument
    answers = posted_at_once(
        loan.actor, ("desk:take-back", instrument, RETURNED), ("inventory:edit", instrument, EDITED)
    )
    now = Instrument.objects.get(pk=instrument.pk)
    assert answers == [302, 302]
    assert (now.whereabouts, now.serial, now.notes) == ("in_store", "77", "Scratched")
    assert Loan.objects.get(pk=loan.pk).returned_at is not None
    free_serials("77")


def pages_lend_and_lend() -> None:
    instrument = make_ready_instrument()
    pages = [
        ("desk:lend-this", instrument, make_lending_form(make_student(school=instrument.school))) for _ in range(2)
    ]
    assert sorted(posted_at_once(make_director(instrument.school), *pages)) == [302, 422]
    assert Loan.objects.filter(instrument=instrument).count() == 1


def test_of_two_who_approve_or_refuse_one_order_at_once_the_second_is_told():
    order = make_order()
    note_estimate(order=order, amount=Decimal(200), on=TODAY, actor=order.asked_by, at=NOW)
    first, second = (make_director(order.instrument.school) for _ in range(2))
    for other in (
        lambda: approve_order(order=order, amount=Decimal(200), actor=second, at=NOW),
        lambda: refuse_order(order=order, because="Too dear", actor=second, at=NOW),
    ):
        answers = at_once(lambda: approve_order(order=order, amount=Decimal(200), actor=first, at=NOW), other)
        assert len(went_well(answers)) == 1
        told = next(str(answer) for answer in answers if isinstance(answer, RefusedError))
        assert any(f"{person} {did}" in told for person in (first, second) for did in ("approved", "refused"))
        assert approval_differences() == []
        number = latest_to_undo(order_events(order)).number
        take_back(order=order, number=number, because="Again", nonce=new_nonce(), actor=first, at=NOW)


@pytest.mark.parametrize("contest", [pages_lend_and_edit, pages_take_back_and_edit, pages_lend_and_lend])
def test_two_pages_posted_at_once_meet_no_fault_and_leave_nothing_to_verify(contest, monkeypatch):
    # The pages read the clock; the rows of these tests are made on NOW.
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + timedelta(hours=1))
    assert wrong_after(contest, A_FEW) == []


def test_the_same_page_posted_four_times_by_browsers_answers_all_alike():
    school = make_school()
    browsers = browsers_of(make_director(school), count=4)
    typed = {
        "kind": "trumpet", "school": school.pk, "level": "student", "acquired_by": "gift", "new_room": "Annex",
        "once": str(new_nonce()),
    }  # fmt: skip
    answers = at_once(*(lambda browser=browser: browser.post(reverse("inventory:add"), typed) for browser in browsers))
    assert {answer.status_code for answer in answers} == {302}
    assert {answer.headers["Location"] for answer in answers} == {
        reverse("inventory:donation", args=[Instrument.objects.get().asset_number])
    }
    assert Room.objects.count() == 1
    assert Event.objects.filter(act="registered").count() == 1
