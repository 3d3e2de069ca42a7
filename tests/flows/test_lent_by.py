"""A loan belongs to the school that lent it, wherever the instrument goes afterward."""

from __future__ import annotations

from contextlib import suppress
from datetime import timedelta
from functools import partial

import pytest
from django.test import Client
from django.urls import NoReverseMatch, reverse

from core.models import Event, User
from core.traces import log_differences
from desk.selectors.verifying import differences
from desk.services.lending import take_back_at_desk
from inventory.exceptions import RefusedError
from inventory.guard import SCHOOL_GUARD
from inventory.models import Instrument, School, Whereabouts
from inventory.services.registering import change_instrument
from loans.models import Agreement, Loan
from loans.services import delete_papers, lend_instrument
from loans.tasks import print_agreement
from tests.contests import at_once
from tests.factories import (
    NOW,
    TODAY,
    make_bench,
    make_director,
    make_ready_instrument,
    make_school,
    make_student,
    make_user,
    new_nonce,
)
from tests.loans.makers import all_back, all_counts, make_agreement, make_hand_out, make_loan, refused
from tests.opening import open_all
from tests.test_visibility import PAGES, text_of

LATER = NOW + timedelta(days=100)
PRIVATE = ("Marigold Studentname", "Gundula Guardianname", "555-0147")


@pytest.fixture
def theirs() -> School:
    return make_school(name="The Other School")


@pytest.fixture
def other(theirs) -> User:
    return make_director(theirs)


@pytest.fixture
def loan(school, director) -> Loan:
    student = make_student(
        school=school, name="Marigold Studentname", guardian_name="Gundula Guardianname", guardian_contact="555-0147"
    )
    loan = make_loan(school=school, student=student, actor=director)
    print_agreement(agreement=make_agreement(loan), actor=director, at=NOW)
    return loan


def move(instrument: Instrument, school: School) -> None:
    administrator = make_user("administrator")
    change_instrument(instrument=instrument, school=school, room=None, actor=administrator, at=LATER)


def taken_back(loan: Loan, director: User) -> Loan:
    return take_back_at_desk(loan=loan, accessories_back=all_back(loan), actor=director, at=LATER)


def log_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def everything(client: Client, loan: Loan) -> dict[str, str]:
    """Every page and paper about the instrument, the loan, the student or a list: address -> what it says."""
    said = {}
    for name in PAGES:
        for key in ([], [loan.instrument.asset_number], [loan.pk], [loan.student_id]):
            with suppress(NoReverseMatch):
                address = reverse(name, args=key)
                answer = client.get(f"{address}?state=all")
                if answer.status_code == 200:
                    said[address] = text_of(answer)
    return said


def test_what_is_out_stays_at_its_school(loan, theirs, school):
    words = refused(partial(move, loan.instrument, theirs), RefusedError)
    assert words == (
        f"{loan.instrument.asset_number} is with a student of {school}. Take it back first; "
        "then it can go to another school."
    )
    assert Instrument.objects.get().school == school


def test_at_its_school_it_is_corrected_while_it_is_out(loan, director, school):
    saved = change_instrument(instrument=loan.instrument, school=school, serial="NEW", actor=director, at=LATER)
    assert (saved.serial, saved.school) == ("NEW", school)


def test_lent_and_moved_at_the_same_moment_it_is_lent_by_the_school_it_is_at(transactional_db):
    instrument = make_ready_instrument()
    school, director, theirs = instrument.school, make_director(instrument.school), make_school()
    student, hand_out = make_student(school=school), make_hand_out(instrument, actor=director)
    lend = partial(
        lend_instrument, instrument=instrument, student=student, due_on=TODAY, accessories=all_counts(instrument),
        hand_out=hand_out, actor=director, at=NOW, nonce=new_nonce(),
    )  # fmt: skip
    results = at_once(lend, partial(move, instrument, theirs))
    assert sum(isinstance(result, RefusedError) for result in results) == 1
    assert Instrument.objects.get().school == (school if Loan.objects.exists() else theirs)


def test_moved_on_it_shows_the_other_school_that_it_was_lent_and_never_to_whom(loan, director, other, theirs):
    number = loan.instrument.asset_number
    taken_back(loan, director)
    move(loan.instrument, theirs)
    said = everything(log_in(other), loan)
    assert not [(address, word) for address, text in said.items() for word in PRIVATE if word in text]
    history = said[reverse("desk:instrument", args=[number])]
    assert "Lent" in history
    assert "Returned" in history
    for name in ("loans:loan", "loans:agreement", "loans:student"):
        assert reverse(name, args=[loan.pk if name != "loans:student" else loan.student_id]) not in said


def test_moved_on_the_school_that_lent_it_keeps_loan_paper_and_comparison(loan, director, theirs):
    taken_back(loan, director)
    move(loan.instrument, theirs)
    client = log_in(director)
    page = client.get(reverse("loans:loan", args=[loan.pk])).text
    for word in (*PRIVATE, "Same as at hand-out.", "Open the PDF"):
        assert word in page
    assert reverse("desk:instrument", args=[loan.instrument.asset_number]) not in page
    assert client.get(reverse("loans:agreement", args=[loan.pk])).status_code == 200
    assert loan.instrument.asset_number in client.get(f"{reverse('loans:list')}?state=returned").text
    assert loan.instrument.asset_number in client.get(reverse("loans:student", args=[loan.student_id])).text


def test_moved_on_what_is_done_with_its_papers_is_on_the_record_of_the_school_that_lent_it(loan, director, theirs):
    taken_back(loan, director)
    move(loan.instrument, theirs)
    delete_papers(agreement=Agreement.objects.get(), actor=director, at=LATER)
    assert Event.objects.get(act="papers_deleted").tenant == loan.school_id


def moved_while_out(loan: Loan, theirs: School) -> None:
    """As an older version allowed."""
    with SCHOOL_GUARD.down():
        Instrument.objects.filter(pk=loan.instrument_id).update(school=theirs, room=None)


def test_moved_while_it_was_out_it_is_taken_back_by_the_school_that_lent_it(loan, director, theirs):
    make_bench(school=theirs)
    moved_while_out(loan, theirs)
    client, address = log_in(director), reverse("desk:take-back", args=[loan.instrument.asset_number])
    page = client.get(address)
    assert page.context["benches"] == []
    assert "Part by part" not in page.text
    assert address in client.get(reverse("loans:loan", args=[loan.pk])).text
    answer = client.post(address, {"found": "same", "to": "store", "all_here": "on"})
    assert answer.url == reverse("loans:loan", args=[loan.pk])
    assert Instrument.objects.get().whereabouts == Whereabouts.IN_STORE
    assert client.get(answer.url).status_code == 200


def test_moved_while_it_was_out_the_other_school_learns_whose_it_is_to_take_back_and_no_name(
    loan, other, theirs, school
):
    moved_while_out(loan, theirs)
    said = everything(log_in(other), loan)
    assert not [(address, word) for address, text in said.items() for word in PRIVATE if word in text]
    number = loan.instrument.asset_number
    assert f"{school} lent it and takes it back" in said[reverse("desk:take-back", args=[number])]
    page = said[reverse("desk:instrument", args=[number])]
    assert f'class="btn btn-main" href="{reverse("desk:take-back", args=[number])}"' not in page
    assert log_in(other).post(reverse("desk:take-back", args=[number]), {"found": "same", "to": "store"}).url
    assert Loan.objects.get().returned_at is None


def test_verify_names_a_loan_that_is_out_from_another_school(loan, theirs):
    open_all()
    assert differences()[1] == []
    moved_while_out(loan, theirs)
    assert sorted(differences()[1]) == [
        f"{loan.instrument.asset_number}: is lent by {loan.school}, and is at {theirs}; {loan.school} takes it back",
        f"instrument {loan.instrument_id}: school is {theirs.pk}, its events say {loan.school_id}",
    ]


def test_verify_names_a_loan_given_to_another_school_and_an_agreement_rewritten_by_hand(loan, theirs, school):
    open_all()
    assert list(log_differences()) == []
    agreement = Agreement.objects.get()
    Loan.objects.update(school=theirs)
    Agreement.objects.update(facts=agreement.facts | {"replacement_amount": "1.00"})
    said = sorted(log_differences())
    assert len(said) == 2
    assert said[0].startswith(f"agreement {agreement.pk}: facts sha256 is ")
    assert f"loan {loan.pk}: school is {theirs.pk}, event" in said[1]
