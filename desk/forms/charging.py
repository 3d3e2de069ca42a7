"""Damage, and what a family pays for it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm
from desk.pages.charging import CHOSEN, PRICE
from desk.selectors.charging import Returned
from loans.forms.ledger import amount_field


class DamageForm(forms.Form):
    """What of a returned loan is charged for, and what is typed: the price of a new accessory, of a repair without one."""

    def __init__(self, *args: Any, returned: Returned, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.returned = returned
        self.fields[CHOSEN] = forms.MultipleChoiceField(
            required=False,
            choices=[(key, key) for key in returned.offered],
            widget=forms.MultipleHiddenInput,
            error_messages={"invalid_choice": _("Some of that is wear, or was charged already.")},
        )
        for one in returned.short:
            if not one.is_charged:
                words = gettext("What a new one costs: %(name)s") % {"name": one}
                self.fields[PRICE + one.key] = amount_field(label=words, required=False)
        for key in returned.offered:
            self.fields.setdefault(
                PRICE + key, amount_field(label=gettext("Repair cost, as quoted by a shop"), required=False)
            )

    def chosen(self) -> list[str]:
        """Return what was chosen, with the accessories that have a price; ``returned.proposed`` where nobody has chosen."""
        if not self.is_bound or not self.is_valid():
            return list(self.returned.proposed)
        missing = {one.key for one in self.returned.short}
        return [*self.cleaned_data[CHOSEN], *(key for key in self.prices() if key in missing)]

    def prices(self) -> dict[str, Decimal]:
        if not self.is_bound or not self.is_valid():
            return {}
        typed = ((key, self.cleaned_data.get(PRICE + key)) for key in self.returned.offered)
        return {key: price for key, price in typed if price}


class ChargeForm(OnceForm, DamageForm):
    """The same, with the amount that was decided on."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            if name.startswith(PRICE):
                field.widget = forms.HiddenInput()
        self.fields["amount"] = amount_field(label=_("Charge the family"))
