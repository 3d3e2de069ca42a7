import pytest

from desk.demo.accounts import FEE, charge_families
from desk.demo.year import lend_instruments, return_all_loans
from loans.models import LedgerEntry, Student
from loans.selectors.ledger import ledger_differences, with_balances
from tests.desk.demo.stages import make_stage

pytestmark = pytest.mark.drill


def test_some_families_owe_some_paid_and_some_were_waived(db):
    stage = make_stage(seen=True, share=0.3)
    lend_instruments(stage, days=-365, due_days=-150)
    return_all_loans(stage, days=-160)
    lend_instruments(stage, days=-75, due_days=190)
    charge_families(stage)
    assert {"fee", "payment", "waiver"} <= set(LedgerEntry.objects.values_list("sort", flat=True))
    balances = with_balances(Student.objects.all())
    assert balances.filter(owed__gte=int(FEE) * 100).exists()
    assert balances.filter(owed=0).exists()
    assert list(ledger_differences()) == []
