"""What left the fleet is nowhere but in its own list: in no register, need, plan, value, assignment or file.

Common practice, no source.
"""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from core.exceptions import RefusedError
from desk.selectors import replacement
from desk.selectors.season_plan import Terms, season_of
from desk.selectors.value import fleet_value
from inventory.models import Instrument
from inventory.selectors.past import AsOf
from inventory.selectors.property import ALL, missing_counts
from inventory.services.disposing import bring_back
from loans.selectors.seats import need_of
from tests.factories import make_ready_instrument
from tests.inventory.leaving_makers import make_disposal
from tests.loans.makers import make_loan, make_seat

pytestmark = pytest.mark.django_db
LISTS = ("inventory:list", "desk:today", "repairs:care", "desk:season-plan", "desk:value", "desk:replacement")


def counted(school):
    """How often each sum and plan has it today."""
    today = timezone.localdate()
    return [
        len(Instrument.objects.present()),
        fleet_value(AsOf(today)).total.instruments,
        len(replacement.need_of(schools=None, today=today).facts),
        len(season_of([school], Terms(today=today)).season.candidates),
        sum(one.free + one.kept for one in need_of(school, today=today)),
        missing_counts(type(school).objects.all(), scope="all", today=today)[ALL],
    ]


@pytest.mark.parametrize("way", ["sold", "error"])
def test_it_is_in_no_count_and_no_list_until_it_is_back(client, school, director, way):
    make_seat(school=school, kind_code="trumpet")
    horn = make_ready_instrument(school=school, kind_code="trumpet")
    client.force_login(director)
    assert counted(school) == [1] * 6
    gone = make_disposal(horn, way=way, at=timezone.now())
    assert counted(school) == [0] * 6
    assert not any(horn.asset_number in client.get(reverse(name)).text for name in LISTS)
    export = client.get(reverse("inventory:export", args=["csv"]))
    assert horn.asset_number not in b"".join(export.streaming_content).decode()
    assert horn.asset_number in client.get(reverse("desk:out")).text
    with pytest.raises(RefusedError):
        make_loan(school=school, instrument=Instrument.objects.get(pk=horn.pk))
    bring_back(disposal=gone, because="Wrong.", was_wrong=True, actor=director, at=timezone.now())
    assert counted(school) == [1] * 6
