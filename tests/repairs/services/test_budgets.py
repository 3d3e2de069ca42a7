"""Budgets are added and changed; each refusal writes nothing."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.exceptions import RefusedError
from core.models import Event
from repairs.models import RepairBudget
from repairs.services.budgets import add_budget, change_budget
from tests.factories import NOW, TODAY, make_director, make_school

pytestmark = pytest.mark.django_db
FIELDS = {"fund": " Band fund ", "begins_on": TODAY, "ends_on": TODAY + timedelta(days=300), "amount": Decimal(500)}


def test_a_budget_is_added_and_changed_with_its_events(school):
    director = make_director(school)
    budget = add_budget(school=school, actor=director, at=NOW, **FIELDS)
    assert str(budget) == "Band fund 2026"
    changed = change_budget(budget=budget, actor=director, at=NOW, **(FIELDS | {"amount": Decimal(650)}))
    assert changed.amount == 650
    added, told = Event.objects.filter(act__startswith="budget_").order_by("number")
    days = {"begins_on": str(TODAY), "ends_on": str(TODAY + timedelta(days=300))}
    assert (added.act, added.after) == ("budget_added", {"amount": "500", "now": days})
    assert (told.before, told.after) == ({"amount": "500.00"}, {"amount": "650", "now": days})
    assert {added.tenant, told.tenant} == {school.pk}


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"ends_on": TODAY - timedelta(days=1)}, "last day is before the first"),
        (
            {"fund": "band FUND", "begins_on": TODAY + timedelta(days=300), "ends_on": TODAY + timedelta(days=700)},
            "already has",
        ),
        ({"fund": "Other", "amount": Decimal(-1)}, "greater than or equal"),
        ({"fund": " "}, "blank"),
    ],
)
def test_what_cannot_be_is_refused(school, fields, sentence):
    director = make_director(school)
    add_budget(school=school, actor=director, at=NOW, **FIELDS)
    with pytest.raises(RefusedError, match=sentence):
        add_budget(school=school, actor=director, at=NOW, **(FIELDS | fields))
    assert RepairBudget.objects.count() == 1


def test_another_school_and_the_next_year_have_budgets_of_the_same_fund(school):
    director, end = make_director(school), FIELDS["ends_on"]
    add_budget(school=school, actor=director, at=NOW, **FIELDS)
    add_budget(school=make_school(), actor=director, at=NOW, **FIELDS)
    later = {"begins_on": end + timedelta(days=1), "ends_on": end + timedelta(days=300)}
    add_budget(school=school, actor=director, at=NOW, **(FIELDS | later))
    assert RepairBudget.objects.count() == 3
