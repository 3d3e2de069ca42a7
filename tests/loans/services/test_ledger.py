"""The ledger through its acts: what is refused, and that any sequence of acts balances."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db.models import Sum
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from core.models import Event
from inventory.catalog.load import catalog
from inventory.models import Role
from loans.exceptions import LedgerRefusedError
from loans.models import LedgerEntry, Posting, Student
from loans.rules.ledger import MOVES, Account, Sort, in_dollars
from loans.selectors.ledger import (
    WAIVED_THROUGH,
    entries_of,
    ledger_differences,
    owed_by,
    owed_by_each,
    school_year_of,
    with_balances,
)
from loans.services.ledger import charge_yearly_fee, reverse_entry
from tests.catalogs import using, with_setting
from tests.contests import at_once, went_well
from tests.factories import NOW, TODAY, make_director, make_school, make_student, make_user, new_nonce
from tests.loans.makers import make_entry, make_loan

amounts = st.decimals(min_value=Decimal("0.01"), max_value=400, places=2)


def enter(student: Student, sort: str, amount: str | Decimal, **more: Any) -> LedgerEntry:
    return make_entry(student=student, sort=sort, amount=amount, **more)


class Ledger(RuleBasedStateMachine):
    """Two families of one school, and beside them what each should owe."""

    @initialize()
    def begin(self) -> None:
        self.school = make_school()
        self.actor = make_director(self.school)
        self.students = [make_student(school=self.school) for _ in range(2)]
        self.owed = [Decimal(0), Decimal(0)]

    def by(self) -> dict[str, Any]:
        return {"actor": self.actor, "at": NOW, "nonce": new_nonce()}

    @rule(which=st.integers(0, 1), sort=st.sampled_from(sorted(MOVES)), amount=amounts)
    def enter(self, which: int, sort: Sort, amount: Decimal) -> None:
        count = LedgerEntry.objects.count()
        try:
            enter(self.students[which], sort, amount, actor=self.actor)
        except LedgerRefusedError:
            assert sort in {Sort.REFUND, Sort.WAIVER}
            assert LedgerEntry.objects.count() == count
            return
        self.owed[which] += amount if MOVES[sort].debit is Account.FAMILY else -amount

    @rule(number=st.integers(0, 50))
    def reverse(self, number: int) -> None:
        entries = list(LedgerEntry.objects.filter(school=self.school).standing().order_by("pk"))
        if not entries:
            return
        entry = entries[number % len(entries)]
        moved = entries_of(entry.student).get(pk=entry.pk).moved
        reverse_entry(entry=entry, because="Slip", **self.by())
        self.owed[self.students.index(entry.student)] -= in_dollars(moved)

    @invariant()
    def balances(self) -> None:
        if not hasattr(self, "school"):
            return
        assert [owed_by(student) for student in self.students] == self.owed
        rows = Posting.objects.filter(entry__school=self.school).order_by().values_list("account")
        sums = {account: in_dollars(cents) for account, cents in rows.annotate(sum=Sum("cents"))}
        assert sum(sums.values()) == 0
        assert sums.get(Account.FAMILY, 0) == sum(self.owed)
        assert list(ledger_differences()) == []
        there = owed_by_each([student.pk for student in self.students])
        assert all(there.get(one.pk, 0) == owed for one, owed in zip(self.students, self.owed, strict=True))


@pytest.mark.django_db
def test_any_sequence_of_acts_balances():
    run_state_machine_as_test(Ledger, settings=settings(max_examples=12, stateful_step_count=15, deadline=None))


@pytest.mark.drill
@pytest.mark.django_db
def test_long_sequences_of_acts_balance():
    run_state_machine_as_test(Ledger, settings=settings(max_examples=80, stateful_step_count=60, deadline=None))


@pytest.mark.django_db
def test_an_entry_is_told_by_one_event_without_words():
    loan = make_loan()
    entry = enter(
        loan.student, "damage", "45.50", loan=loan, note="Bell bow, Robin's brother sat on it", actor=loan.actor
    )
    event = Event.objects.latest("number")
    assert (event.act, event.tenant) == ("ledger_entered", loan.school_id)
    assert "Robin" not in str(event.after)
    assert event.after["now"]["amount"] == "45.50"
    assert dict(entry.postings.values_list("account", "cents")) == {"family": 4550, "damage": -4550}


@pytest.mark.django_db
def test_a_form_posted_twice_enters_once():
    student, nonce = make_student(), new_nonce()
    actor = make_director(student.school)
    first, second = (enter(student, "fee", "35", nonce=nonce, actor=actor) for _ in range(2))
    assert first == second
    assert owed_by(student) == 35


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("sort", "amount", "more", "words"),
    [
        ("refund", "1", {}, "At most $0 can be paid back"),
        ("waiver", "35.01", {}, "At most $35 can be waived"),
        ("waiver", "5", {"approved_by": None}, "who approved"),
        ("fee", "0", {}, "from $0.01 to"),
        ("fee", "1.005", {}, "dollars and cents"),
        ("payment", "5", {"on": TODAY + timedelta(days=2)}, "in the future"),
    ],
)
def test_what_is_refused_enters_nothing(sort, amount, more, words):
    student = make_student()
    enter(student, "fee", "35")
    with pytest.raises(LedgerRefusedError, match=words.replace("$", r"\$")):
        enter(student, sort, amount, **more)
    assert (LedgerEntry.objects.count(), owed_by(student)) == (1, 35)


@pytest.mark.django_db
def test_another_students_loan_is_refused():
    loan = make_loan()
    with pytest.raises(LedgerRefusedError, match="another student's"):
        enter(make_student(school=loan.school), "loss", "100", loan=loan)


@pytest.mark.django_db
def test_a_waiver_keeps_who_approved_it_and_no_reason():
    student = make_student()
    approver, elsewhere = make_director(student.school), make_director()
    enter(student, "fee", "35")
    for wrong in (
        elsewhere,
        make_user(Role.TECH, school=student.school),
        make_director(student.school, is_active=False),
    ):
        with pytest.raises(LedgerRefusedError, match="who may approve it"):
            enter(student, "waiver", "35", approved_by=wrong)
    waived = enter(student, "waiver", "35", approved_by=approver, note="cannot pay")
    assert (waived.approved_by, waived.note, owed_by(student)) == (approver, "", 0)


@pytest.mark.django_db
def test_a_waiver_of_later_fees_alone_moves_nothing_and_may_be_reversed():
    student = make_student()
    approver = make_director(student.school)
    with pytest.raises(LedgerRefusedError, match="from"):
        enter(student, "waiver", "0", approved_by=approver)
    year = school_year_of(TODAY) + 1
    waived = enter(student, "waiver", "0", approved_by=approver, reckoning={WAIVED_THROUGH: year})
    assert (waived.amount, waived.postings.count(), owed_by(student)) == (0, 0, 0)
    assert with_balances(Student.objects.all()).get().owed == 0
    reverse_entry(entry=waived, because="Slip", actor=approver, at=NOW, nonce=new_nonce())
    assert list(ledger_differences()) == []


@pytest.mark.django_db
def test_nobody_approves_the_own_waiver_unless_the_district_says_so():
    student = make_student()
    director = make_director(student.school)
    enter(student, "fee", "35")
    with pytest.raises(LedgerRefusedError, match="somebody else"):
        enter(student, "waiver", "5", actor=director, approved_by=director)
    with using(with_setting(catalog(), "approver_is_another", 0)):
        assert enter(student, "waiver", "5", actor=director, approved_by=director).approved_by == director


@pytest.mark.django_db
def test_above_a_figure_a_waiver_needs_the_approvers_password_and_keeps_that():
    student = make_student()
    director, approver = make_director(student.school), make_user(Role.ADMINISTRATOR)
    enter(student, "fee", "300")
    by = {"actor": director, "approved_by": approver}
    with using(with_setting(catalog(), "waiver_password_amount", Decimal(100))):
        with pytest.raises(LedgerRefusedError, match=r"above \$100"):
            enter(student, "waiver", "100.01", is_confirmed=False, **by)
        small = enter(student, "waiver", "100", is_confirmed=False, **by)
        large = enter(student, "waiver", "100.01", is_confirmed=True, **by)
        assert owed_by(student) == Decimal("99.99")
        assert (small.reckoning, large.reckoning) == ({}, {"confirmed": "password"})
        assert Event.objects.latest("pk").after["confirmed"] == "password"
    with using(with_setting(with_setting(catalog(), "waiver_password_amount", 1), "approver_is_another", 0)):
        own = enter(student, "waiver", "50", actor=director, approved_by=director, is_confirmed=False)
        assert own.reckoning == {}, "nobody types the own password to agree with themselves"


@pytest.mark.django_db
def test_a_reversal_happens_once_says_why_and_is_not_reversed():
    student = make_student()
    fee, by = enter(student, "fee", "35"), {"actor": make_director(student.school), "at": NOW}
    with pytest.raises(LedgerRefusedError, match="Say why"):
        reverse_entry(entry=fee, because=" ", nonce=new_nonce(), **by)
    back = reverse_entry(entry=fee, because="Wrong family", nonce=new_nonce(), **by)
    assert (owed_by(student), back.reverses, back.amount) == (0, fee, 35)
    with pytest.raises(LedgerRefusedError, match="reversed already"):
        reverse_entry(entry=fee, because="Again", nonce=new_nonce(), **by)
    with pytest.raises(LedgerRefusedError, match="is a reversal"):
        reverse_entry(entry=back, because="Again", nonce=new_nonce(), **by)
    assert Posting.objects.count() == 4


@pytest.mark.django_db
def test_the_yearly_fee_is_charged_again_only_after_the_last_day_of_the_school_year():
    """By the calendar: the district's school years end on May 29, in 2027 a Saturday."""
    loan = make_loan()
    days = {
        date(2026, 9, 14): 1,
        date(2027, 5, 15): 0,
        date(2027, 5, 29): 0,
        date(2027, 5, 30): 1,
        date(2027, 9, 1): 0,
        date(2028, 5, 28): 0,
    }
    charged = {}
    for day in days:
        at = datetime(day.year, day.month, day.day, 15, 0, tzinfo=UTC)
        charged[day] = charge_yearly_fee(
            school=loan.school, amount=Decimal(35), on=day, note="Fee", actor=loan.actor, at=at, nonce=new_nonce()
        )
    assert charged == days


@pytest.mark.django_db(transaction=True)
def test_the_yearly_fee_charged_at_two_desks_is_charged_once():
    loan = make_loan()
    fee = {"school": loan.school, "amount": Decimal(35), "on": TODAY, "note": "Fee", "actor": loan.actor, "at": NOW}
    answers = at_once(*[lambda: charge_yearly_fee(**fee, nonce=new_nonce())] * 3)
    assert sorted(answers) == [0, 0, 1]
    assert owed_by(loan.student) == 35


@pytest.mark.django_db(transaction=True)
def test_a_refund_asked_for_at_two_desks_is_paid_once():
    student = make_student()
    enter(student, "payment", "20")
    actor = make_director(student.school)
    answers = at_once(*[lambda: enter(student, "refund", "20", actor=actor)] * 4)
    assert len(went_well(answers)) == 1
    assert (owed_by(student), LedgerEntry.objects.filter(sort="refund").count()) == (0, 1)
