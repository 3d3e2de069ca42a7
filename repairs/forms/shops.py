"""Shops, what they are asked, what they say and what they send back."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from core.forms import OnceForm, set_choices, set_queryset
from inventory.catalog.load import catalog
from repairs.forms.stock import PLAIN, money
from repairs.models import Shop, ShopOrder


def day(label: str, **more: Any) -> forms.DateField:
    return forms.DateField(label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **more)


def words(label: str, *, rows: int = 4, **more: Any) -> forms.CharField:
    return forms.CharField(max_length=2000, label=label, widget=forms.Textarea(attrs={"rows": rows}), **more)


class ShopForm(forms.Form):
    name = forms.CharField(max_length=120, label="Name", widget=PLAIN)
    contact = forms.CharField(max_length=200, required=False, label="Whom to call", widget=PLAIN)
    address = forms.CharField(max_length=300, required=False, widget=PLAIN)
    note = words("Note", required=False, rows=3, help_text="What they are good at, the account number.")


class ShopChangeForm(ShopForm):
    is_used = forms.BooleanField(required=False, label="Still used")

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(shop, name) for name in self.base_fields}
        super().__init__(*args, **kwargs)


def work_choices() -> list[tuple[str, str]]:
    """Return the kinds of work that shops are paid for, by name."""
    methods = [(code, one.name) for code, one in catalog().methods.items() if one.fee is not None]
    return [("", "Other work, or only a quote"), *sorted(methods, key=lambda pair: pair[1])]


class AskForm(OnceForm):
    """A question to a shop, filled from the plan."""

    shop = forms.ModelChoiceField(queryset=Shop.objects.none(), empty_label=None)
    question = words("What the shop is asked")
    findings = forms.TypedMultipleChoiceField(
        required=False, coerce=int, widget=forms.CheckboxSelectMultiple, label="It is about"
    )
    work = forms.ChoiceField(required=False, label="Kind of work")
    expected_low_amount = money("Expected, at least")
    expected_high_amount = money(
        "Expected, at most", help_text="Above the district's limit somebody approves it first."
    )

    def __init__(self, *args: Any, standing: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "shop", Shop.objects.filter(is_used=True))
        set_choices(self, "work", work_choices())
        set_choices(self, "findings", standing)
        if not standing:
            del self.fields["findings"]

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        low, high = data.get("expected_low_amount"), data.get("expected_high_amount")
        if low is not None and high is not None and low > high:
            self.add_error("expected_high_amount", "The most is less than the least.")
        return data


class EstimateForm(forms.Form):
    amount = money("They say it costs", required=True)
    on = day("Said on")
    promised_on = day("Promised for", required=False)


class ApproveForm(forms.Form):
    amount = money("Up to", required=True, min_value=Decimal("0.01"))


class SendForm(forms.Form):
    promised_on = day(
        "They promise it for", required=False, help_text="Without a day nothing can tell you that it is late."
    )


class BackForm(forms.Form):
    what_was_done = words("What the shop did")
    put_right = forms.TypedMultipleChoiceField(
        required=False, coerce=int, widget=forms.CheckboxSelectMultiple, label="Put right"
    )
    warranty_until = day("Warranty until", required=False)

    def __init__(self, *args: Any, asked: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_choices(self, "put_right", asked)
        if not asked:
            del self.fields["put_right"]


class InvoiceForm(forms.Form):
    amount = money("The bill", required=True)
    number = forms.CharField(max_length=60, required=False, label="Bill number", widget=PLAIN)
    on = day("Dated")

    def __init__(self, *args: Any, order: ShopOrder, **kwargs: Any) -> None:
        known = {"amount": order.invoice_amount, "number": order.invoice_number, "on": order.invoice_on}
        kwargs["initial"] = kwargs.get("initial", {}) | {name: value for name, value in known.items() if value}
        super().__init__(*args, **kwargs)


class CallOffForm(forms.Form):
    because = forms.CharField(max_length=200, label="Why", widget=PLAIN)
