"""What lists kept of people goes when nobody needs it any more."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event
from inventory.exceptions import ImportRefusedError
from inventory.models import Donation, ImportBatch, ImportRow
from inventory.services.importing import KEPT_FOR, forget_old_lists, forget_problem_rows, publish_import
from tests.factories import NOW, TODAY
from tests.inventory.services.importing.makers import make_judged, make_received

pytestmark = pytest.mark.django_db

GIFTS = b"Instrument,Serial,Donated by\nTpt,1,A Kind Giver\nNothing known,2,Another Giver\n"


def make_written(school) -> ImportBatch:
    batch = make_judged(school=school, data=GIFTS)
    publish_import(batch=batch, actor=batch.actor, at=NOW, today=TODAY)
    return batch


def kept_texts() -> str:
    return str(list(ImportRow.objects.values_list("cells", "values", "remarks", "reason")))


def test_rows_to_put_right_stay_a_while_and_then_go_with_the_names_in_them(school):
    make_written(school)
    assert forget_old_lists(at=NOW + KEPT_FOR).rows == 0
    assert "Another Giver" in kept_texts()
    assert forget_old_lists(at=NOW + KEPT_FOR + timedelta(seconds=1)).rows == 1
    assert "Giver" not in kept_texts()
    assert Donation.objects.get().donor_name == "A Kind Giver"  # of the one that came in
    assert Event.objects.get(act="import_rows_forgotten").after == {"rows": 1}
    assert forget_old_lists(at=NOW + 2 * KEPT_FOR).rows == 0


@pytest.mark.parametrize("make", [make_judged, make_received])
def test_a_list_that_nobody_confirmed_is_thrown_away_after_the_same_time(school, make):
    make(school=school)
    assert forget_old_lists(at=NOW + KEPT_FOR).lists == 0
    assert forget_old_lists(at=NOW + KEPT_FOR + timedelta(days=1)).lists == 1
    assert ImportBatch.objects.get().state == ImportBatch.State.DROPPED
    assert not ImportRow.objects.exists()


def test_a_person_may_forget_them_at_once_but_only_of_a_written_list(school):
    batch = make_written(school)
    assert forget_problem_rows(batch=batch, actor=batch.actor, at=NOW) == 1
    assert forget_problem_rows(batch=batch, actor=batch.actor, at=NOW) == 0
    assert Event.objects.filter(act="import_rows_forgotten").count() == 1
    waiting = make_judged(school=school, data=GIFTS + b"\n")
    with pytest.raises(ImportRefusedError, match="not written yet"):
        forget_problem_rows(batch=waiting, actor=waiting.actor, at=NOW)
    assert "Another Giver" in kept_texts()
