"""What an outside shop is asked, says and sends back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices, set_queryset
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import Instrument, InstrumentQuerySet
from inventory.selectors.labels import numbers_in
from repairs.forms.budgets import PaidByForm
from repairs.forms.fields import PLAIN, day, money, words
from repairs.models import Shop
from repairs.rules.shop_work import works_of

NO_DATE = _("Without a date, nothing can show that it is late.")
OTHER_WORK = "other"


def work_choices(kind: Kind, *, wanted: Mapping[str, str] | None = None) -> list[tuple[Any, Any]]:
    """Return the kinds of work that a shop may do on this kind: first those its findings need, with their parts."""
    trade, parts = catalog(), wanted or {}
    needed = [(code, f"{trade.methods[code].name}: {where}") for code, where in parts.items() if code in trade.methods]
    rest = sorted((trade.methods[code].name, code) for code in works_of(trade, kind) - parts.keys())
    return [
        ("", gettext("Choose the kind of work")),
        *([(gettext("For what is wrong with it"), needed)] if needed else []),
        (gettext("Everything shops do on one"), [(code, name) for name, code in rest]),
        (OTHER_WORK, gettext("Other work: say what")),
    ]


class NumbersField(forms.MultipleChoiceField):
    """Ticked numbers of instruments. The form looks them up: those asked about a moment ago are not offered again."""

    def valid_value(self, value: Any) -> bool:
        return True


class AskForm(PaidByForm, OnceForm):
    """A question to a shop, filled from the plan."""

    shop = forms.ModelChoiceField(label=_("Shop"), queryset=Shop.objects.none(), empty_label=None)
    question = words(_("What to ask the shop"))
    findings = forms.TypedMultipleChoiceField(
        required=False, coerce=int, widget=forms.CheckboxSelectMultiple, label=_("It is about")
    )
    work = forms.ChoiceField(label=_("Kind of work"))
    other_work = forms.CharField(max_length=120, required=False, label=_("What other work"), widget=PLAIN)
    expected_low_amount = money(_("Expected cost, at least"))
    expected_high_amount = money(
        _("Expected cost, at most"), help_text=_("Over the district's limit, somebody must approve it first.")
    )
    is_estimate_only = forms.BooleanField(
        required=False, label=_("For an estimate only"), help_text=_("It may leave before the work is approved.")
    )
    trip_amount = money(_("Trip and bench fee, at most"), help_text=_("Only where it goes for an estimate."))
    promised_on = day(_("Promised for"), required=False, help_text=NO_DATE)
    also = NumbersField(
        required=False, widget=forms.CheckboxSelectMultiple, label=_("Also send"),
        help_text=_("Each gets an order of its own, asking for what its own findings need."),
    )  # fmt: skip
    also_numbers = forms.CharField(
        max_length=400, required=False, label=_("More, by number"), widget=PLAIN,
        help_text=_("Numbers on the tags, with commas between them."),
    )  # fmt: skip

    rarely_used = frozenset({"promised_on", "purchase_order", "also", "also_numbers"})
    field_order = [
        "shop", "question", "findings", "work", "other_work", "expected_low_amount", "expected_high_amount",
        "is_estimate_only", "trip_amount", "promised_on",
    ]  # fmt: skip

    def __init__(
        self,
        *args: Any,
        kind: Kind,
        standing: Sequence[tuple[int, str]],
        wanted: Mapping[str, str] | None = None,
        others: InstrumentQuerySet | None = None,
        offered: Sequence[tuple[str, str]] = (),
        **kwargs: Any,
    ) -> None:
        """``others`` are the instruments that may go along, ``offered`` those that a trip would serve, by number."""
        super().__init__(*args, **kwargs)
        self.others = others
        set_choices(self, "also", offered)
        if not offered and not self.is_bound:
            del self.fields["also"]
        set_queryset(self, "shop", Shop.objects.filter(is_used=True))
        set_choices(self, "work", work_choices(kind, wanted=wanted))
        set_choices(self, "findings", standing)
        if not standing:
            del self.fields["findings"]

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        low, high = data.get("expected_low_amount"), data.get("expected_high_amount")
        if low is not None and high is not None and low > high:
            self.add_error("expected_high_amount", gettext("This is less than the lowest expected cost."))
        if data.get("work") == OTHER_WORK:
            other = data.get("other_work", "")
            if not other:
                self.add_error("other_work", gettext("Say what other work."))
            data |= {"work": "", "question": f"{other}\n{data.get('question', '')}"}
        data.pop("other_work", None)
        data["others"] = self._others(data.pop("also", []), data.pop("also_numbers", ""))
        return data

    @property
    def seen(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in self.rarely_used]

    @property
    def folded(self) -> list[forms.BoundField]:
        return [field for field in self if field.name in self.rarely_used]

    def _others(self, ticked: Sequence[str], typed: str) -> list[Instrument]:
        """Return the instruments that go along, by number, each once."""
        numbers = dict.fromkeys([*ticked, *numbers_in(typed)])
        if not numbers or self.others is None:
            return []
        rows = {row.asset_number.upper(): row for row in self.others.filter(asset_number__in=[*numbers])}
        if unknown := [number for number in numbers if number.upper() not in rows]:
            words = gettext("Not among the instruments you may send: %(numbers)s.")
            self.add_error("also_numbers", words % {"numbers": ", ".join(unknown)})
        return [*rows.values()]


class EstimateForm(forms.Form):
    amount = money(_("Estimated cost"), required=True)
    on = day(_("Date of the estimate"))
    promised_on = day(_("Promised for"), required=False)


class ApproveForm(PaidByForm):
    field_order = ["amount"]

    amount = money(_("Up to"), required=True, min_value=Decimal("0.01"))


class RefuseForm(forms.Form):
    because = forms.CharField(max_length=200, label=_("Why not"), widget=PLAIN)


class SpanForm(forms.Form):
    """The first and the last day of what is asked for; either may be left open."""

    first = day(_("From"), required=False)
    last = day(pgettext_lazy("date", "To"), required=False)


class SendForm(forms.Form):
    on = day(_("Sent on"), required=False)
    promised_on = day(_("Promised for"), required=False, help_text=NO_DATE)
    others = forms.TypedMultipleChoiceField(
        required=False, coerce=int, widget=forms.CheckboxSelectMultiple, label=_("Send with it")
    )

    def __init__(self, *args: Any, together: Sequence[tuple[int, str]] = (), **kwargs: Any) -> None:
        """``together`` are the orders asked on the same form that are not sent yet."""
        super().__init__(*args, **kwargs)
        set_choices(self, "others", together)
        if not together:
            del self.fields["others"]


class PromiseForm(forms.Form):
    promised_on = day(_("They now promise"), help_text=_("The first promise stays: lateness is counted from it."))


class BackForm(forms.Form):
    on = day(_("Came back on"), required=False)
    what_was_done = words(_("What the shop did"))
    put_right = forms.TypedMultipleChoiceField(
        required=False, coerce=int, widget=forms.CheckboxSelectMultiple, label=_("Fixed")
    )
    warranty_until = day(_("Warranty until"), required=False)

    def __init__(self, *args: Any, findings: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_choices(self, "put_right", findings)
        if not findings:
            del self.fields["put_right"]


class InvoiceForm(PaidByForm):
    field_order = ["amount", "number", "on"]

    amount = money(_("Amount of the bill"), required=True)
    number = forms.CharField(max_length=60, required=False, label=_("Bill number"), widget=PLAIN)
    on = day(_("Date of the bill"))


class CallOffForm(forms.Form):
    because = forms.CharField(max_length=200, label=_("Why"), widget=PLAIN)


class TakeBackForm(OnceForm):
    number = forms.IntegerField(widget=forms.HiddenInput)
    because = forms.CharField(max_length=200, label=_("Why"), widget=PLAIN)
