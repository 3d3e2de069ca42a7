"""A purchase request is filed once, with one event, and what was filed is held against the log."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.acts import service
from core.exceptions import RefusedError
from core.models import Event
from inventory.models import PurchaseRequest
from inventory.services.purchasing import close_purchase, not_requested
from tests.factories import NOW, TODAY, make_director
from tests.inventory.purchase_makers import make_purchase_request, wanted
from tests.opening import differences

pytestmark = pytest.mark.django_db


@service
def unrequested(school, lines):
    return not_requested(school=school, lines=lines)


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


@pytest.mark.parametrize("closed_as", ["bought", "withdrawn"])
def test_it_is_closed_once_by_somebody(school, closed_as):
    request, actor = make_purchase_request(school=school), make_director(school, name="Dana Reed")
    close_purchase(purchase=request, closed_as=closed_as, actor=actor, at=NOW)
    request.refresh_from_db()
    assert (request.closed_as, request.closed_at, request.closed_by) == (closed_as, NOW, actor)
    with pytest.raises(RefusedError, match=r"already been closed\. Dana Reed did that"):
        close_purchase(purchase=request, closed_as="bought", actor=make_director(school), at=NOW)
    assert Event.objects.get(act="purchase_closed").after == {"as": closed_as}
    assert differences()[1] == []
    PurchaseRequest.objects.filter(pk=request.pk).update(closed_at=NOW + timedelta(days=1))
    assert len(differences()[1]) == 1


@pytest.mark.parametrize(
    ("lines", "left"),
    [
        ([wanted(count=2)], []),
        ([wanted(count=5)], [wanted(count=3)]),
        ([wanted(count=1), wanted(make="intermediate", count=4)], [wanted(make="intermediate", count=3)]),
        ([wanted(size="3/4")], [wanted(size="3/4")]),
        ([wanted(kind="flute")], [wanted(kind="flute")]),
    ],
    ids=["all", "more of it", "of either make", "another size", "another kind"],
)
def test_what_an_open_request_asks_for_is_not_asked_for_again(school, lines, left):
    """The request asks for two tubas. Common practice, no source."""
    make_purchase_request(school=school)
    make_purchase_request()  # another school's
    assert unrequested(school, lines) == left


def test_what_was_closed_may_be_asked_for_again(school, director):
    close_purchase(purchase=make_purchase_request(school=school), closed_as="withdrawn", actor=director, at=NOW)
    assert unrequested(school, [wanted()]) == [wanted()]
