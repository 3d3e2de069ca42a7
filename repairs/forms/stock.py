"""What comes in, what is counted, and what is taken off a parts horn."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from core.forms import OnceForm, set_choices
from inventory.models import Instrument
from repairs.models import Bench, StockItem
from repairs.pages.donors import Offer
from repairs.selectors.stock import MOST_JOBS, known_codes

PLAIN = forms.TextInput(attrs={"autocomplete": "off"})


def number(label: str, **more: Any) -> forms.DecimalField:
    fields: dict[str, Any] = {"min_value": Decimal(0), "max_digits": 9, "decimal_places": 3} | more
    fields["widget"] = forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"})
    return forms.DecimalField(label=label, **fields)


def money(label: str, **more: Any) -> forms.DecimalField:
    return number(label, **({"max_digits": 9, "decimal_places": 2, "required": False} | more))


class StockItemForm(OnceForm):
    """Something of the catalog, or a part with a name of its own."""

    code = forms.ChoiceField(
        required=False,
        label="What",
        help_text="Work at this bench then lowers it by itself. Not in the list? Name it below.",
    )
    name = forms.CharField(
        max_length=80, required=False, label="A part of its own", help_text="Third-slide stop screw, rotor stop arm.",
        widget=PLAIN,
    )  # fmt: skip
    fits_maker = forms.CharField(max_length=80, required=False, label="Fits maker", widget=PLAIN)
    fits_model = forms.CharField(max_length=80, required=False, label="Fits model", widget=PLAIN)
    reorder_level = number("Buy again below", initial=0)
    price_amount = money("Price of one", help_text="Empty: the middle of the catalog's figures.")
    place = forms.CharField(max_length=60, required=False, label="Where it lies", widget=PLAIN)

    def __init__(self, *args: Any, bench: Bench, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kept = set(StockItem.objects.filter(bench=bench).exclude(code="").values_list("code", flat=True))
        things = sorted((one.name, code) for code, one in known_codes().items() if code not in kept)
        set_choices(self, "code", [("", "None of these"), *((code, name) for name, code in things)])

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("code") and data.get("name"):
            self.add_error("name", "Choose one of the list or name a part, not both.")
        return data


class StockChangeForm(forms.Form):
    name = forms.CharField(max_length=80, widget=PLAIN)
    fits_maker = forms.CharField(max_length=80, required=False, label="Fits maker", widget=PLAIN)
    fits_model = forms.CharField(max_length=80, required=False, label="Fits model", widget=PLAIN)
    reorder_level = number("Buy again below")
    price_amount = money("Price of one", help_text="Empty: the middle of the catalog's figures.")
    place = forms.CharField(max_length=60, required=False, label="Where it lies", widget=PLAIN)

    def __init__(self, *args: Any, item: StockItem, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(item, name) for name in self.base_fields} | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        if item.code:
            for name in ("name", "fits_maker", "fits_model"):
                del self.fields[name]


class ReceiveForm(OnceForm):
    quantity = number("How many came in", min_value=Decimal("0.001"))
    amount = money("Paid for all of it", help_text="The price of one follows from it.")
    note = forms.CharField(max_length=200, required=False, help_text="Where from, receipt number.", widget=PLAIN)


class CountForm(OnceForm):
    quantity = number("How many lie there", help_text="A started bottle counts as its share: half is 0.5.")
    note = forms.CharField(max_length=200, required=False, widget=PLAIN)


class JobsForm(forms.Form):
    """For how many jobs to shop."""

    jobs = forms.IntegerField(min_value=0, max_value=MOST_JOBS, label="For the next jobs", initial=5)


class MarkForm(forms.Form):
    because = forms.CharField(max_length=200, label="Why", widget=PLAIN)


class TakePartForm(OnceForm):
    """A part, or a set that stays together, and the horn it goes onto."""

    offer = forms.ChoiceField(label="What is taken")
    onto = forms.CharField(
        max_length=20, label="Goes onto", help_text="The asset number of the other horn.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )  # fmt: skip
    note = forms.CharField(max_length=200, required=False, widget=PLAIN)

    def __init__(self, *args: Any, offers: Sequence[Offer], instruments: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offers = {one.key: one for one in offers}
        self.instruments = instruments
        choices = [(one.key, f"{one.name} ({one.trouble})" if one.trouble else one.name) for one in offers]
        set_choices(self, "offer", choices)

    def clean_onto(self) -> Instrument:
        found: Instrument | None = self.instruments.filter(
            asset_number__iexact=self.cleaned_data["onto"].strip()
        ).first()
        if found is None:
            raise forms.ValidationError("No instrument has this number.")
        return found

    def taken(self) -> dict[str, Any]:
        """Return what take_part asks for."""
        key: str = self.cleaned_data["offer"]
        part, _, place = key.partition(":")
        return {
            "part": part,
            "place": place,
            "is_set": bool(self.offers[key].set_because),
            "onto": self.cleaned_data["onto"],
            "note": self.cleaned_data["note"],
            "batch": self.cleaned_data["nonce"],
        }


class FitForm(forms.Form):
    fit = forms.ChoiceField(choices=[("fits", "It fits"), ("does_not", "It does not fit")])
