"""A list with names becomes instruments, students and loans in one act."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.events import broken_links
from desk.selectors.listed import people_in
from desk.services.listed import NEW, NOBODY, Lent, publish_with_loans
from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.services.importing import Vouched
from loans.models import Loan, Student
from tests.factories import NOW, TODAY, make_student
from tests.inventory.services.importing.makers import make_judged
from tests.loans.makers import make_shared_use
from tests.opening import differences

pytestmark = pytest.mark.django_db
DUE = date(TODAY.year + 1, 6, 4)
LIST = (
    b"Tag,Instrument,Assigned To,Grade,Date Out\n"
    b'A1,Tpt,"Rivera, Ana",7,9/14/2026\n'
    b"A2,Flute,BEN ALDER,6,\n"
    b"A3,Flute,band room,,\n"
    b"A4,Tuba,Ben Alder,6,\n"
    b"A5,Snare kit,,,\n"
)


def confirm(batch, *, who=None, since=date(2026, 9, 1), vouched=None):
    people = people_in(batch, user=batch.actor).people
    usual = {person.key: person.students[0] if person.match.exact else NEW for person in people}
    lent = Lent(people, usual | (who or {}), since, DUE, is_signed_elsewhere=True)
    given = {"batch": batch, "lent": lent, "vouched": vouched or Vouched()}
    return publish_with_loans(**given, actor=batch.actor, at=NOW, today=TODAY).written


def test_rows_of_registered_instruments_get_their_loans_and_nothing_else_changes(school):
    """Matched by asset number (A1) or by serial alone (the flute); what cannot be lent says why."""
    named = (
        b"Tag,Instrument,Make,Serial,Assigned To,Grade,Date Out\n"
        b'A1,Tpt,Plain,1,"Rivera, Ana",7,9/14/2026\n'
        b",Flute,Plain,2,BEN ALDER,6,\n"
        b"A3,Flute,Plain,,Cy Oak,6,\n"
        b"A4,Tuba,Plain,,Di Elm,6,\n"
        b",Oboe,Plain,,Ed Fir,6,\n"
    )
    bare = (
        b"Tag,Instrument,Make,Serial\nA1,Tpt,Plain,1\nA2,Flute,Plain,2\nA3,Flute,Plain,\nA4,Tuba,Plain,\n,Oboe,Plain,\n"
    )
    assert confirm(make_judged(school=school, data=bare)) == 5
    assert confirm(make_judged(school=school, data=b"Tag,Instrument,Assigned To\nA3,Flute,Bo Yew\n")) == 0
    Instrument.objects.filter(asset_number="A4").update(whereabouts="not_found")
    batch = make_judged(school=school, data=named)
    assert (batch.rows_new, batch.rows_known) == (0, 5)
    with CaptureQueriesContext(connection) as queries:
        listed = people_in(batch, user=batch.actor)
    assert len(queries) <= 6
    assert [(one.name, [out.number for out in one.out]) for one in listed.people] == [
        ("Ana Rivera", ["A1"]),
        ("Ben Alder", ["A2"]),
    ]
    assert [(one.row, one.reason.partition(":")[0].partition(" since")[0]) for one in listed.refused] == [
        (4, "Out to Bo Yew"),
        (5, "It is not in storage"),
        (6, "No asset number or serial says which of the registered instruments this is."),
    ]
    with pytest.raises(RefusedError, match="nothing new"):
        confirm(batch, who={"who-2": NOBODY, "who-3": NOBODY})
    assert confirm(batch) == 0
    assert Instrument.objects.count() == 5
    loans = Loan.objects.filter(instrument__asset_number__in=["A1", "A2"]).order_by("instrument__asset_number")
    assert [number_of(loan) for loan in loans] == [
        ("A1", "Ana Rivera", date(2026, 9, 14)),
        ("A2", "Ben Alder", date(2026, 9, 1)),
    ]
    assert all(loan.is_signed_elsewhere for loan in loans)
    assert confirm(batch) == 0  # confirmed twice
    again = people_in(make_judged(school=school, data=named), user=batch.actor)
    assert (again.people, again.settled, len(again.refused)) == ([], 2, 3)
    Loan.objects.filter(pk=loans[0].pk).update(returned_at=NOW + timedelta(days=1))
    Instrument.objects.filter(asset_number="A1").update(whereabouts="in_store")
    with pytest.raises(RefusedError, match="A1 was with somebody else until"):
        confirm(make_judged(school=school, data=named))
    assert Loan.objects.count() == 3


def number_of(loan: Loan) -> tuple[str, str, date]:
    return loan.instrument.asset_number, loan.student.name, loan.lent_on


def test_names_become_students_and_loans_with_the_instruments_and_the_same_file_again_adds_nothing(school):
    ana = make_student(school=school, name="Ana Rivera", grade="7")
    batch = make_judged(school=school, data=LIST)
    with CaptureQueriesContext(connection) as queries:
        assert confirm(batch) == 5
    changed = [query["sql"] for query in queries if query["sql"].startswith('UPDATE "inventory_instrument"')]
    assert len(changed) == 2  # where they are and what state that makes, of all at once
    loans = Loan.objects.select_related("instrument", "student").order_by("instrument__asset_number")
    assert [number_of(loan) for loan in loans] == [
        ("A1", "Ana Rivera", date(2026, 9, 14)),
        ("A2", "Ben Alder", date(2026, 9, 1)),
        ("A4", "Ben Alder", date(2026, 9, 1)),
    ]
    assert loans[0].student == ana
    assert Student.objects.count() == 2
    out = Instrument.objects.filter(whereabouts="with_student")
    codes = [[reason["code"] for reason in one.readiness_reasons] for one in out]
    assert codes == [["with_student", "not_inspected"]] * 3  # owes nothing
    assert Instrument.objects.get(asset_number="A3").is_hygiene_due
    again = make_judged(school=school, data=LIST)
    assert (again.rows_new, again.rows_known) == (0, 5)
    assert differences()[1] == []
    assert list(broken_links()) == []


def test_all_or_nothing(school):
    batch = make_judged(school=school, data=LIST)
    with pytest.raises(RefusedError, match="Enter the date"):
        confirm(batch, since=None)
    with pytest.raises(RefusedError, match="future"):
        confirm(batch, since=date(2030, 1, 1))
    assert not Instrument.objects.exists()
    assert not Student.objects.exists()
    assert confirm(batch) == 5
    assert confirm(batch) == 0  # confirmed twice
    assert Loan.objects.count() == 3


def test_nobody_stays_in_storage_and_a_list_taken_on_trust_and_cleaned_may_go_out(school):
    batch = make_judged(school=school, data=LIST)
    vouched = Vouched(trusted_until=date(2027, 1, 10), cleaned_on=date(2026, 8, 20), cleaned_by="the shop")
    confirm(batch, who={"who-3": NOBODY}, vouched=vouched)
    flute = Instrument.objects.get(asset_number="A2")
    assert (flute.whereabouts, flute.readiness, flute.ready_until) == ("in_store", "may_go_out", date(2027, 1, 10))
    assert [reason["code"] for reason in flute.readiness_reasons] == ["trusted"]
    assert not flute.is_hygiene_due
    batch.refresh_from_db()
    assert (batch.cleaned_by, batch.cleaned_on) == ("the shop", date(2026, 8, 20))
    assert differences()[1] == []


def test_what_is_shared_in_class_is_not_lent_by_the_word_of_a_list(school):
    """Common practice, no source: what several students use stays in the room."""
    assert confirm(make_judged(school=school, data=b"Tag,Instrument\nA1,Tuba\n")) == 1
    batch = make_judged(school=school, data=b'Tag,Instrument,Assigned To,Grade\nA1,Tuba,"Rivera, Ana",7\n')
    people = people_in(batch, user=batch.actor).people
    use = make_shared_use(instrument=Instrument.objects.get(), school=school)
    (refused,) = people_in(batch, user=batch.actor).refused
    assert (refused.number, use.period.name in refused.reason) == ("A1", True)
    lent = Lent(people, {people[0].key: NEW}, TODAY, DUE, is_signed_elsewhere=True)
    given = {"batch": batch, "lent": lent, "vouched": Vouched(), "actor": batch.actor, "at": NOW, "today": TODAY}
    with pytest.raises(RefusedError, match="stays in the room"):  # shared since the page was opened
        publish_with_loans(**given)
    assert not Loan.objects.exists()
