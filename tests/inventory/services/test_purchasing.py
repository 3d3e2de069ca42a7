"""A purchase request is filed once, with one event, and what was filed is held against the log."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from core.models import Event
from inventory.models import PurchaseRequest
from tests.factories import NOW, TODAY, make_director
from tests.inventory.purchase_makers import make_purchase_request, wanted
from tests.opening import differences

pytestmark = pytest.mark.django_db


def test_it_is_kept_as_asked_with_one_event(school):
    request = make_purchase_request(school=school, needed_by=TODAY)
    (event,) = Event.objects.filter(act="purchase_requested")
    assert (event.subject_id, event.tenant, event.actor_id) == (str(request.pk), school.pk, request.asked_by_id)
    assert request.lines == [
        {
            "kind": "tuba", "size": "", "make": "student", "count": 2, "each": "2100.50",
            "ready_on": (TODAY + timedelta(days=60)).isoformat(),
        }
    ]  # fmt: skip
    assert event.after["now"]["lines"] == request.lines
    assert "Wind band" not in str(event.after)


def test_a_line_changed_behind_the_programs_back_shows(school):
    request = make_purchase_request(school=school)
    assert differences()[1] == []
    request.lines[0]["count"] = 3
    PurchaseRequest.objects.filter(pk=request.pk).update(lines=request.lines)
    assert len(differences()[1]) == 1


@pytest.mark.parametrize("lines", [[], [wanted(count=0)]])
def test_a_request_for_nothing_is_refused(school, lines):
    with pytest.raises(RefusedError, match="one instrument or more"):
        make_purchase_request(school=school, lines=lines)
    assert not PurchaseRequest.objects.exists()


def test_the_same_is_asked_for_once_a_day(school):
    make_purchase_request(school=school)
    with pytest.raises(RefusedError, match="was filed today"):
        make_purchase_request(school=school, actor=make_director(school))
    make_purchase_request(school=school, lines=[wanted(count=1)])
    make_purchase_request(school=school, at=NOW + timedelta(days=1))
    make_purchase_request()  # another school
    assert PurchaseRequest.objects.count() == 4
