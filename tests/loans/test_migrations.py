"""What older versions kept stays on record, or is put right."""

from __future__ import annotations

import pytest

from inventory.models import Instrument
from loans.models import Agreement, Loan
from loans.tasks import print_agreement
from tests.factories import NOW, make_school
from tests.loans.makers import make_agreement, make_loan
from tests.migrating import migrate_to, newest_afterward

BEFORE = ("loans", "0005_students_by_name")


@pytest.mark.django_db(transaction=True)
def test_a_loan_goes_to_its_students_school_and_a_paper_still_to_be_made_says_what_is_known_today(request):
    newest = newest_afterward(request)
    printed, waiting, moved = (make_agreement(make_loan()) for _ in range(3))
    lenders = {loan.pk: loan.student.school_id for loan in Loan.objects.select_related("student")}
    print_agreement(agreement=printed, actor=printed.loan.actor, at=NOW)
    migrate_to(BEFORE).get_model("inventory", "Instrument").objects.filter(pk=moved.loan.instrument_id).update(
        school_id=make_school().pk
    )
    migrate_to(*newest)
    assert dict(Loan.objects.values_list("pk", "school")) == lenders
    assert len(set(lenders.values())) == 3
    assert Instrument.objects.get(loans=moved.loan_id).school_id != lenders[moved.loan_id]
    kept = {agreement.pk: agreement for agreement in Agreement.objects.all()}
    assert (kept[printed.pk].facts, kept[printed.pk].names) == ({}, {})
    assert kept[waiting.pk].names == waiting.names
    assert kept[waiting.pk].facts == {name: waiting.facts[name] for name in kept[waiting.pk].facts}
    assert kept[waiting.pk].facts["serial"] == waiting.loan.instrument.serial
