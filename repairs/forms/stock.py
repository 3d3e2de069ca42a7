"""What comes in, what is counted, and what is taken off an instrument kept for parts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices, set_queryset
from inventory.models import Instrument
from repairs.forms.budgets import BudgetedForm
from repairs.forms.fields import PLAIN, money, number
from repairs.models import Bench, BenchQuerySet, StockItem, TakenPart
from repairs.pages.donors import Offer
from repairs.rules.bounds import LEAST, MOST_PAID
from repairs.selectors.stock import MOST_JOBS, known_codes


def text(label: Any, *, column: str, help_text: Any = "", required: bool = False) -> forms.CharField:
    """A line of text as long as its column of StockItem holds."""
    longest: int | None = getattr(StockItem._meta.get_field(column), "max_length", None)
    return forms.CharField(label=label, max_length=longest, required=required, help_text=help_text, widget=PLAIN)


class OwnForm(forms.Form):
    """What a bench says of each thing that it keeps."""

    reorder_level = number(_("Reorder below"), initial=0)
    price_amount = money(_("Price each"), help_text=_("Leave empty to use the middle of the catalog's figures."))
    place = text(_("Where it is kept"), column="place")
    supplier = text(_("Supplier"), column="supplier", help_text=_("Where it is bought; the shopping list goes by it."))
    part_number = text(_("Part number"), column="part_number", help_text=_("As the supplier's list has it."))


class StockItemForm(OnceForm, OwnForm):
    """Something of the catalog, or a part with a name of its own."""

    code = forms.ChoiceField(
        required=False,
        label=_("What"),
        help_text=_("Work at this bench then lowers the count automatically. Not in the list? Name it below."),
    )
    name = text(_("Name of the part"), column="name", help_text=_("Third-slide stop screw, rotor stop arm."))
    fits_maker = text(_("Fits maker"), column="fits_maker")
    fits_model = text(_("Fits model"), column="fits_model")
    field_order = ("code", "name", "fits_maker", "fits_model", *OwnForm.base_fields)

    def __init__(self, *args: Any, bench: Bench, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A retired one is offered: it is asked for again, and the refusal says where to bring it back.
        kept = set(StockItem.objects.filter(bench=bench).in_use().exclude(code="").values_list("code", flat=True))
        things = sorted((one.name, code) for code, one in known_codes().items() if code not in kept)
        set_choices(self, "code", [("", gettext("None of these")), *((code, name) for name, code in things)])

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("code") and data.get("name"):
            self.add_error("name", gettext("Choose one from the list or name a part, not both."))
        return data


class StockChangeForm(OwnForm):
    name = text(_("Name"), column="name", required=True)
    fits_maker = text(_("Fits maker"), column="fits_maker")
    fits_model = text(_("Fits model"), column="fits_model")
    field_order = ("name", "fits_maker", "fits_model", *OwnForm.base_fields)

    def __init__(self, *args: Any, item: StockItem, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(item, name) for name in self.base_fields} | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        if item.code:
            for name in ("name", "fits_maker", "fits_model"):
                del self.fields[name]


class ReceiveForm(BudgetedForm, OnceForm):
    field_order = ["quantity", "amount", "note"]

    quantity = number(_("Quantity received"), least=LEAST)
    amount = money(_("Total paid"), most=MOST_PAID, help_text=_("The price each is worked out from it."))
    note = forms.CharField(
        label=_("Note"),
        max_length=200,
        required=False,
        help_text=_("Where it came from, receipt number."),
        widget=PLAIN,
    )


class CountForm(OnceForm):
    quantity = number(
        _("Quantity in stock"), help_text=_("Count an open bottle by how much is left: half full is 0.5.")
    )
    note = forms.CharField(label=_("Note"), max_length=200, required=False, widget=PLAIN)


class MoveForm(OnceForm):
    to = forms.ModelChoiceField(
        queryset=Bench.objects.none(),
        to_field_name="code",
        empty_label=None,
        label=_("To bench"),
        error_messages={"invalid_choice": _("That bench is retired or no longer yours. Choose another.")},
    )
    quantity = number(_("Quantity moved"), least=LEAST)
    note = forms.CharField(label=_("Note"), max_length=200, required=False, widget=PLAIN)

    def __init__(self, *args: Any, benches: BenchQuerySet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "to", benches)


class ReverseForm(OnceForm):
    because = forms.CharField(max_length=200, label=_("What was wrong"), widget=PLAIN)


class JobsForm(forms.Form):
    """For how many jobs to shop."""

    jobs = forms.IntegerField(min_value=0, max_value=MOST_JOBS, label=_("For the next jobs"), initial=5)


class UnmarkForm(forms.Form):
    because = forms.CharField(max_length=200, label=_("Why"), widget=PLAIN)


class MarkForm(OnceForm):
    because = forms.CharField(max_length=200, label=_("Why"), widget=PLAIN)


class TakePartForm(OnceForm):
    """A part, or a set that stays together, and the instrument it goes onto."""

    offer = forms.ChoiceField(label=_("What to take"))
    onto = forms.CharField(
        max_length=20, label=_("Goes onto"), help_text=_("The asset number of the other instrument."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )  # fmt: skip
    note = forms.CharField(
        label=_("Note"), max_length=200, required=False, widget=PLAIN,
        help_text=_("On an instrument of another kind, say why it fits anyway."),
    )  # fmt: skip

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
            raise forms.ValidationError(gettext("No instrument has this number."))
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


class DoesNotFitForm(OnceForm):
    """Where a part goes that does not fit; from a shelf it can only go back."""

    goes = forms.ChoiceField(label=_("Where does it go?"), widget=forms.RadioSelect)
    bench = forms.ModelChoiceField(
        queryset=Bench.objects.none(), required=False, empty_label=_("Choose a bench"), label=_("Whose shelf"),
        help_text=_("If it goes into stock."),
    )  # fmt: skip
    because = forms.CharField(max_length=200, required=False, label=_("Why it does not fit"), widget=PLAIN)

    def __init__(self, *args: Any, taken: TakenPart, benches: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        number = taken.parts_instrument.instrument.asset_number
        choices = [(TakenPart.Went.BACK, gettext("Back on %(number)s") % {"number": number})]
        if taken.went == TakenPart.Went.SHELF:
            del self.fields["bench"]
        else:
            choices.append((TakenPart.Went.SHELF, gettext("On a shelf, as stock of a bench")))
            set_queryset(self, "bench", benches)
        set_choices(self, "goes", choices)


class WithdrawTakenForm(OnceForm):
    because = forms.CharField(
        max_length=200, label=_("What was wrong"), widget=PLAIN,
        help_text=_("The wrong part, the wrong instrument, not taken at all."),
    )  # fmt: skip
