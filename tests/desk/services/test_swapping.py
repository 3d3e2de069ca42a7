"""A swap: the one comes in and the other goes out, or nothing happens."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest

from core.models import Event
from desk.selectors.lending import spares_for
from desk.services.swapping import swap_at_desk
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Instrument, Readiness, Whereabouts
from inventory.rules.facts import Owed
from inventory.services.care import answer_report, record_cleaning
from inventory.services.inspecting import count_accessories
from loans.exceptions import AccessoriesError, AlreadyReturnedError, DueDateError, StaysInError
from loans.models import Agreement, Loan
from loans.selectors.agreements import current_terms
from loans.selectors.lending import loans_of
from loans.services import Signing
from repairs.models import Job
from tests.contests import at_once, went_well
from tests.factories import NOW, make_bench, make_director, make_ready_instrument, make_school, make_student, new_nonce
from tests.loans import makers
from tests.loans.makers import all_back, ink, make_loan, make_seat, make_shared_use
from tests.opening import differences

LATER = NOW + timedelta(days=20)
refused = partial(makers.refused, swap_at_desk)


@pytest.fixture
def loan(db):
    return make_loan()


@pytest.fixture
def spare(loan):
    return make_ready_instrument(school=loan.school)


@pytest.fixture
def offer(loan, spare):
    return {
        "loan": loan,
        "spare": spare,
        "accessories_back": all_back(loan),
        "kept": (),
        "because": "second valve sticks",
        "bench": make_bench(school=loan.school),
        "actor": loan.actor,
        "at": LATER,
        "nonce": new_nonce(),
    }


def where(instrument) -> str:
    return Instrument.objects.values_list("whereabouts", flat=True).get(pk=instrument.pk)


def test_the_one_goes_to_the_bench_and_the_other_to_the_same_student(offer, loan, spare):
    new = swap_at_desk(**offer)
    assert (new.student_id, new.due_on, new.in_place_of_id) == (loan.student_id, loan.due_on, loan.pk)
    assert (where(loan.instrument), where(spare)) == (Whereabouts.ON_BENCH, Whereabouts.WITH_STUDENT)
    assert Job.objects.get().because == "second valve sticks"
    assert not Agreement.objects.filter(loan=new).exists()  # to be signed
    assert set(loans_of(loan.student)) == {loan, new}
    assert swap_at_desk(**offer) == new  # the same form again
    told = Event.objects.filter(act="lent").latest("number")
    assert told.after["in_place_of"] == loan.pk
    assert differences()[1] == []


def test_an_overdue_one_is_swapped_with_another_due_date_and_signed_for_at_once(offer, loan):
    at = NOW + timedelta(days=201)
    late = offer | {"at": at, "signing": Signing(signed="screen", terms=current_terms(), guardian_signer="Gale",
                                                 student_signature=ink(), guardian_signature=ink())}  # fmt: skip
    assert "Say when the spare is due back" in refused(DueDateError, **late)
    refused(DueDateError, **late, due_on=loan.due_on)
    due_on = loan.due_on + timedelta(days=30)
    new = swap_at_desk(**late, due_on=due_on)
    assert (new.due_on, new.agreement.signed, new.agreement.guardian_signer) == (due_on, "screen", "Gale")
    loan.refresh_from_db()
    assert loan.due_on < due_on, "the old one was late"
    assert [one for one in differences()[1] if "paper" not in one] == []


def test_in_storage_what_is_wrong_keeps_it_in_and_once_well_it_is_swapped_back(offer, loan, spare):
    new = swap_at_desk(**offer | {"bench": None})
    row = Instrument.objects.get(pk=loan.instrument_id)
    report = row.problem_reports.get()
    assert (row.whereabouts, row.readiness, report.text) == (
        Whereabouts.IN_STORE,
        Readiness.STAYS_IN,
        "second valve sticks",
    )
    assert spares_for(new, today=new.lent_on) == []
    answer_report(report=report, answer="Oiled.", actor=loan.actor, at=LATER)
    record_cleaning(instrument=row, done={Owed.HYGIENE}, actor=loan.actor, at=LATER)
    other = make_ready_instrument(school=loan.school, serial="1")
    assert spares_for(new, today=new.lent_on) == [row, other]  # what it stands in for comes first
    back = swap_at_desk(**offer | {"loan": new, "spare": row, "accessories_back": all_back(new), "because": "",
                                   "bench": None, "nonce": new_nonce()})  # fmt: skip
    assert (back.instrument_id, back.in_place_of_id) == (row.pk, new.pk)
    assert not Instrument.objects.get(pk=spare.pk).problem_reports.exists()
    assert differences()[1] == []


def test_what_the_student_keeps_counts_as_back_and_moves_where_the_spare_has_none(offer, loan, spare):
    count_accessories(instrument=spare, counts={"mouthpiece": 0, "valve_oil": 1}, actor=loan.actor, at=NOW)
    back = dict.fromkeys(all_back(loan), 0) | {"case": 1}
    new = swap_at_desk(**offer | {"accessories_back": back, "kept": ("mouthpiece", "valve_oil")})
    loan.refresh_from_db()
    assert {row["code"]: row["count"] for row in loan.accessories_back if row["count"]} == {
        "case": 1, "mouthpiece": 1, "valve_oil": 1,
    }  # fmt: skip
    present = dict(loan.instrument.accessories.values_list("code", "present"))
    assert (present["mouthpiece"], present["valve_oil"]) == (0, 1)  # the spare's own oil stays in its case
    assert {row["code"]: row["count"] for row in new.accessories}["mouthpiece"] == 1


def test_refused_it_changes_nothing(offer, loan, spare):
    other_kind = make_ready_instrument(school=loan.school, kind_code="flute")
    assert "same kind" in refused(StaysInError, **offer | {"spare": other_kind})
    assert "same kind" in refused(StaysInError, **offer | {"spare": loan.instrument})
    assert "keep what went out" in refused(AccessoriesError, **offer | {"kept": ("lyre",)})
    taken = make_ready_instrument(school=loan.school)
    make_loan(instrument=taken, actor=loan.actor)
    assert "faster" in refused(InstrumentUnavailableError, **offer | {"spare": taken})
    seat = make_seat(school=loan.school, kind_code="trumpet")
    shared = make_shared_use(seat=seat, instrument=make_ready_instrument(school=loan.school)).instrument
    assert "end its sharing first" in refused(StaysInError, **offer | {"spare": shared})
    swap_at_desk(**offer)
    third = make_ready_instrument(school=loan.school)
    refused(AlreadyReturnedError, **offer | {"spare": third, "nonce": new_nonce()})


@pytest.mark.django_db(transaction=True)
def test_two_students_do_not_get_the_same_spare():
    school = make_school()
    loans = [make_loan(school=school, student=make_student(school=school)) for _ in range(2)]
    spare, actor = make_ready_instrument(school=school), make_director(school)

    def swap(loan: Loan) -> Loan:
        return swap_at_desk(loan=loan, spare=spare, accessories_back=all_back(loan), kept=(), actor=actor, at=LATER,
                            nonce=new_nonce())  # fmt: skip

    answers = at_once(*(partial(swap, loan) for loan in loans))
    assert len(went_well(answers)) == 1
    assert sorted(Loan.objects.open().values_list("instrument", flat=True)) == sorted(
        [spare.pk, *(loan.instrument_id for loan in loans if Loan.objects.get(pk=loan.pk).is_open)]
    )
