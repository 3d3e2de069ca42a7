"""Repair budgets, and which of them pays for an order."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_queryset
from core.money import dollars
from inventory.models import School
from repairs.forms.fields import PLAIN, day, money
from repairs.models import RepairBudget, RepairBudgetQuerySet


class BudgetChoice(forms.ModelChoiceField):  # type: ignore[type-arg]  # the class takes none when it runs
    def label_from_instance(self, budget: RepairBudget) -> str:
        return gettext("%(budget)s: %(left)s left") % {"budget": budget, "left": dollars(budget.left)}


class BudgetedForm(forms.Form):
    """Which budget pays. ``budgets`` are those to choose from, with their sums."""

    budget = BudgetChoice(
        label=_("Budget"), queryset=RepairBudget.objects.none(), required=False, empty_label=_("No budget")
    )

    def __init__(self, *args: Any, budgets: RepairBudgetQuerySet | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if budgets:
            set_queryset(self, "budget", budgets)
        else:
            del self.fields["budget"]


class PaidByForm(BudgetedForm):
    """Which budget pays, and under which purchase order."""

    purchase_order = forms.CharField(max_length=40, required=False, label=_("Purchase order"), widget=PLAIN)


class BudgetForm(forms.Form):
    fund = forms.CharField(max_length=60, label=_("Fund"), help_text=_("Band fund, booster club."), widget=PLAIN)
    begins_on = day(_("First day"))
    ends_on = day(_("Last day"))
    amount = money(_("Amount"), required=True)


class NewBudgetForm(OnceForm, BudgetForm):
    school = forms.ModelChoiceField(label=_("School"), queryset=School.objects.none(), empty_label=None)
    field_order = ["school"]

    def __init__(self, *args: Any, schools: QuerySet[School], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "school", schools)
