"""What older versions kept stays on record, or is put right."""

from __future__ import annotations

import pytest

from inventory.models import Instrument
from loans.models import Agreement, Guardian, Loan, Student
from loans.tasks import print_agreement
from tests.factories import NOW, make_school
from tests.loans.makers import make_agreement, make_loan
from tests.migrating import migrate_to, newest_afterward
from tests.opening import differences

BEFORE = ("loans", "0005_students_by_name")
UNGUARDED = ("inventory", "0022_opening_events")  # what is lent could be moved then


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_a_loan_goes_to_its_students_school_and_a_paper_still_to_be_made_says_what_is_known_today(request):
    newest = newest_afterward(request)
    printed, waiting, moved = (make_agreement(make_loan()) for _ in range(3))
    lenders = {loan.pk: loan.student.school_id for loan in Loan.objects.select_related("student")}
    print_agreement(agreement=printed, actor=printed.loan.actor, at=NOW)
    migrate_to(BEFORE, UNGUARDED).get_model("inventory", "Instrument").objects.filter(
        pk=moved.loan.instrument_id
    ).update(school_id=make_school().pk)
    migrate_to(*newest)
    assert dict(Loan.objects.values_list("pk", "school")) == lenders
    assert len(set(lenders.values())) == 3
    assert Instrument.objects.get(loans=moved.loan_id).school_id != lenders[moved.loan_id]
    kept = {agreement.pk: agreement for agreement in Agreement.objects.all()}
    assert (kept[printed.pk].facts, kept[printed.pk].names) == ({}, {})
    assert kept[waiting.pk].names == waiting.names
    assert kept[waiting.pk].facts == {name: waiting.facts[name] for name in kept[waiting.pk].facts}
    assert kept[waiting.pk].facts["serial"] == waiting.loan.instrument.serial


CONTACTS = {
    "gale@family.example": "email",
    "(555) 010-4477": "phone",
    "555-0147 gale@family.example": "contact",
    "": "name",
}


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_guardians_become_rows_with_their_contacts_sorted_and_go_back(request):
    newest = newest_afterward(request)
    old = migrate_to(("loans", "0008_every_loan_has_a_school"))
    school = old.get_model("inventory", "School").objects.create(code="ELM", name="Elm Street")
    rows = old.get_model("loans", "Student").objects
    made = {
        contact: rows.create(
            school=school, name="Ana Rivera", grade="6", guardian_name="Gale Rivera", guardian_contact=contact
        ).pk
        for contact in CONTACTS
    }
    alone = rows.create(school=school, name="Cher", grade="6").pk
    migrate_to(*newest)
    for contact, column in CONTACTS.items():
        guardian = Guardian.objects.get(student=made[contact])
        assert (guardian.place, guardian.name, guardian.language) == (1, "Gale Rivera", "en")
        held = {name: value for name in ("email", "phone", "contact") if (value := getattr(guardian, name))}
        assert held == ({column: contact} if contact else {})
    assert set(Student.objects.values_list("sort_name", flat=True)) == {"Rivera, Ana", "Cher"}
    assert not Guardian.places.filter(student=alone).exists()
    assert differences()[1] == []
    old = migrate_to(("loans", "0008_every_loan_has_a_school"))
    rows = old.get_model("loans", "Student").objects.values_list("guardian_contact", "guardian_name")
    assert dict(rows.exclude(pk=alone)) == dict.fromkeys(CONTACTS, "Gale Rivera")
    assert rows.get(pk=alone) == ("", "")


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_going_back_what_was_undone_has_come_back(request):
    newest_afterward(request)
    loan = make_loan()
    Loan.objects.filter(pk=loan.pk).update(undone_at=NOW, undone_by=loan.actor)
    old = migrate_to(("loans", "0008_every_loan_has_a_school"))
    assert old.get_model("loans", "Loan").objects.get(pk=loan.pk).returned_at == NOW
