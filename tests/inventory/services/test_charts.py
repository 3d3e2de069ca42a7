from __future__ import annotations

import pytest

from core.models import Event
from inventory.exceptions import RefusedError
from inventory.models import ChartConfirmation
from inventory.selectors.charts import chart_digest
from inventory.services.charts import confirm_chart, withdraw_chart
from tests.factories import NOW, TODAY


def confirm(director, **told) -> ChartConfirmation:
    fields = {"code": "flute", "digest": chart_digest("flute"), "actor": director, "on": TODAY, "at": NOW} | told
    return confirm_chart(**fields)


def test_a_confirmation_keeps_who_when_and_of_what_content(director):
    row = confirm(director)
    assert (row.chart, row.digest, row.confirmed_on, row.confirmed_by) == (
        "flute", chart_digest("flute"), TODAY, director,
    )  # fmt: skip
    assert Event.objects.get(act="chart_confirmed").after["chart"] == "flute"


def test_confirming_twice_writes_one_event(director):
    confirm(director)
    confirm(director)
    assert Event.objects.filter(act="chart_confirmed").count() == ChartConfirmation.objects.count() == 1


def test_a_chart_that_changed_since_is_confirmed_anew(director):
    confirm(director)
    ChartConfirmation.objects.update(digest="f" * 64)
    assert confirm(director).digest == chart_digest("flute")
    assert Event.objects.filter(act="chart_confirmed").count() == 2


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"code": "kazoo"}, "no chart called kazoo"),
        ({"code": "trumpet"}, "already"),
        ({"digest": "0" * 64}, "has changed since you opened it"),
        ({"digest": ""}, "has changed since you opened it"),
    ],
    ids=["unknown", "published", "stale page", "nothing read"],
)
def test_what_cannot_be_confirmed_is_refused_and_writes_nothing(director, told, said):
    with pytest.raises(RefusedError, match=said):
        confirm(director, **told)
    assert not ChartConfirmation.objects.exists()
    assert not Event.objects.filter(act="chart_confirmed").exists()


def test_taking_it_back_removes_it_and_is_told(director):
    confirm(director)
    withdraw_chart(code="flute", actor=director, at=NOW)
    withdraw_chart(code="flute", actor=director, at=NOW)
    assert not ChartConfirmation.objects.exists()
    assert Event.objects.filter(act="chart_withdrawn").count() == 1
