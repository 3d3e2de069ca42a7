"""What the database refuses of instruments, past the services."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, connection, transaction

from inventory.guard import SCHOOL_GUARD
from inventory.models import Instrument, Whereabouts
from tests.factories import make_instrument, make_school
from tests.loans.makers import make_loan
from tests.migrating import migrate_to, newest_afterward


def refused(statement: str, *values: object) -> bool:
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement, values)
    except IntegrityError as error:
        return "stays at its school" in str(error)
    return False


MOVE = "UPDATE inventory_instrument SET school_id = %s WHERE id = %s"


@pytest.mark.django_db
def test_what_is_lent_stays_at_its_school_and_what_is_in_moves():
    loan, other = make_loan(), make_school()
    lent, inside = loan.instrument_id, make_instrument().pk
    assert refused(MOVE, other.pk, lent)
    assert refused(
        "UPDATE inventory_instrument SET whereabouts = 'in_store', school_id = %s WHERE id = %s", other.pk, lent
    )
    assert refused("UPDATE inventory_instrument SET school_id = %s", other.pk)
    assert Instrument.objects.get(pk=lent).school_id == loan.school_id
    assert not refused(MOVE, loan.school_id, lent)  # its own
    assert not refused("UPDATE inventory_instrument SET notes = 'x' WHERE id = %s", lent)
    assert not refused(MOVE, other.pk, inside)
    Instrument.objects.filter(pk=lent).update(whereabouts=Whereabouts.IN_STORE)
    assert not refused(MOVE, other.pk, lent)


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_its_migration_puts_it_up_and_takes_it_down_and_every_later_one_leaves_it(request):
    newest = newest_afterward(request)
    assert list(SCHOOL_GUARD.missing()) == [], "a migration that alters the table of instruments puts the guard up last"
    migrate_to(("inventory", "0022_opening_events"))
    assert list(SCHOOL_GUARD.missing())
    migrate_to(*newest)
    assert list(SCHOOL_GUARD.missing()) == []
