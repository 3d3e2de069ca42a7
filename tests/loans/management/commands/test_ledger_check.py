"""The command answers 0 where everything balances and 1 where not."""

from __future__ import annotations

import io

import pytest
from django.core.management import call_command

from loans.guard import LEDGER_GUARD
from loans.models import LedgerEntry
from tests.factories import make_student
from tests.loans.services.test_ledger import enter


@pytest.mark.django_db
def test_it_says_how_many_entries_balance_and_fails_on_one_that_does_not():
    enter(make_student(), "fee", "35")
    out = io.StringIO()
    call_command("ledger_check", stdout=out)
    assert out.getvalue() == "1 entries, 0 differences\n"
    with LEDGER_GUARD.down():
        LedgerEntry.objects.update(amount=36)
    with pytest.raises(SystemExit) as left:
        call_command("ledger_check", stdout=out)
    assert left.value.code == 1
    assert "does not move what a fee of 36.00 moves" in out.getvalue()
