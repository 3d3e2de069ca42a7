"""Forms of budgets, and the choice of who pays."""

from __future__ import annotations

from decimal import Decimal

import pytest

from repairs.forms.budgets import NewBudgetForm, PaidByForm
from repairs.forms.stock import ReceiveForm
from repairs.selectors.budgets import budgets_to_choose
from tests.factories import TODAY
from tests.repairs.money_makers import make_budget

pytestmark = pytest.mark.django_db


def test_a_budget_is_offered_with_what_is_left_of_it(school):
    budget = make_budget(school, amount=Decimal("120.50"))
    form = PaidByForm(budgets=budgets_to_choose(school.pk, today=TODAY))
    assert [label for _, label in form.fields["budget"].choices] == ["No budget", "Band fund 2026: $120.50 left"]
    form = PaidByForm({"budget": budget.pk}, budgets=budgets_to_choose(school.pk, today=TODAY))
    assert form.is_valid()
    assert form.cleaned_data == {"budget": budget, "purchase_order": ""}


def test_a_school_without_budgets_is_not_asked_for_one(school):
    form = PaidByForm({"purchase_order": "PO-9"}, budgets=budgets_to_choose(school.pk, today=TODAY))
    assert form.is_valid()
    assert form.cleaned_data == {"purchase_order": "PO-9"}


def test_what_is_received_is_paid_by_the_same_budgets(school):
    make_budget(school, amount=Decimal("120.50"))
    form = ReceiveForm(budgets=budgets_to_choose(school.pk, today=TODAY))
    assert [label for _, label in form.fields["budget"].choices] == ["No budget", "Band fund 2026: $120.50 left"]
    assert [field.name for field in form.visible_fields()] == ["quantity", "amount", "note", "budget"]
    assert "budget" not in ReceiveForm(budgets=None).fields


def test_a_new_budget_is_of_a_school_that_is_offered(school):
    given = {"fund": "Band", "begins_on": "2026-07-01", "ends_on": "2027-06-30", "amount": "500"}
    schools = type(school).objects.filter(pk=school.pk)
    assert NewBudgetForm(given | {"school": school.pk}, schools=schools).is_valid()
    assert "school" in NewBudgetForm(given | {"school": school.pk}, schools=schools.none()).errors
    assert "amount" in NewBudgetForm(given | {"school": school.pk, "amount": "-1"}, schools=schools).errors
