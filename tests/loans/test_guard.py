"""What the database refuses of the ledger, past the services."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, connection, transaction

from core.models import AppendOnlyError
from loans.guard import LEDGER_GUARD
from loans.models import LedgerEntry, Posting
from tests.factories import make_student
from tests.loans.services.test_ledger import enter
from tests.migrating import migrate_to, newest_afterward


def refused(statement: str) -> bool:
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    except IntegrityError as error:
        return "only added to" in str(error)
    return False


@pytest.mark.django_db
def test_the_ledger_is_only_added_to():
    entry = enter(make_student(), "fee", "35", note="Second horn")
    kept = [field.column for field in LedgerEntry._meta.concrete_fields if field.column != "note"]
    for column in kept:
        assert refused(f'UPDATE loans_ledgerentry SET "{column}" = "{column}"'), column  # noqa: S608
    for column in ("entry_id", "account", "cents"):
        assert refused(f"UPDATE loans_posting SET {column} = {column}"), column  # noqa: S608
    assert refused("DELETE FROM loans_posting")
    assert refused("DELETE FROM loans_ledgerentry")
    LedgerEntry.objects.update(note="")  # an erasure
    assert LedgerEntry.objects.get(pk=entry.pk).note == ""


@pytest.mark.django_db
def test_the_application_does_not_even_ask():
    entry = enter(make_student(), "fee", "35")
    for act in (
        entry.delete, LedgerEntry.objects.all().delete, entry.postings.get(account="family").delete,
        Posting.objects.all().delete, lambda: Posting.objects.update(cents=1),
    ):  # fmt: skip
        with pytest.raises(AppendOnlyError):
            act()


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_its_migration_puts_it_up_and_takes_it_down_and_every_later_one_leaves_it(request):
    newest = newest_afterward(request)
    assert list(LEDGER_GUARD.missing()) == [], "a migration that alters the ledger's tables puts the guard up last"
    migrate_to(("loans", "0008_every_loan_has_a_school"))
    migrate_to(*newest)
    assert list(LEDGER_GUARD.missing()) == []
