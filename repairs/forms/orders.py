"""What an outside shop is asked, says and sends back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from itertools import product
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices, set_queryset
from inventory.catalog.load import catalog
from inventory.catalog.names import methods_for
from inventory.catalog.schema import Kind, Method
from inventory.models import Severity
from repairs.forms.shops import day, words
from repairs.forms.stock import PLAIN, money
from repairs.models import Shop

NO_DATE = _("Without a date, nothing can show that it is late.")


def work_choices(kind: Kind, *, wanted: Mapping[str, str] | None = None) -> list[tuple[str, str]]:
    """Return the kinds of work that shops are paid for and that this kind may need, by name.

    ``wanted`` are those that its plan sends out, with the parts they are for: they come first and name these.
    """
    trade, parts = catalog(), wanted or {}
    codes = {one.method for one in trade.overhauls.values() if one.fits(kind)}
    asked = {(part.role, fault) for part in kind.parts for fault in trade.faults_at(part)}
    for (role, fault), severity in product(asked, Severity):
        codes.update(methods_for(catalog=trade, kind=kind, fault=fault, role=role, severity=severity))
    paid = [trade.methods[code] for code in codes if code in parts or _is_paid(trade.methods[code])]
    methods = [(one.code, f"{one.name}: {parts[one.code]}" if parts.get(one.code) else one.name) for one in paid]
    methods.sort(key=lambda one: (one[0] not in parts, one[1]))
    return [("", gettext("Other work, or only a quote")), *methods]


def _is_paid(method: Method) -> bool:
    """Whether shops have a fee for it, or for the last way to free a stuck part."""
    rungs = catalog().ladders[method.ladder].rungs if method.ladder else ()
    return method.fee is not None or any(rung.fee is not None for rung in rungs)


class AskForm(OnceForm):
    """A question to a shop, filled from the plan."""

    shop = forms.ModelChoiceField(queryset=Shop.objects.none(), empty_label=None)
    question = words(_("What to ask the shop"))
    findings = forms.TypedMultipleChoiceField(
        required=False, coerce=int, widget=forms.CheckboxSelectMultiple, label=_("It is about")
    )
    work = forms.ChoiceField(required=False, label=_("Kind of work"))
    expected_low_amount = money(_("Expected cost, at least"))
    expected_high_amount = money(
        _("Expected cost, at most"), help_text=_("Over the district's limit, somebody must approve it first.")
    )
    promised_on = day(_("Promised for"), required=False, help_text=NO_DATE)

    def __init__(
        self,
        *args: Any,
        kind: Kind,
        standing: Sequence[tuple[int, str]],
        wanted: Mapping[str, str] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
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
        return data


class EstimateForm(forms.Form):
    amount = money(_("Estimated cost"), required=True)
    on = day(_("Date of the estimate"))
    promised_on = day(_("Promised for"), required=False)


class ApproveForm(forms.Form):
    amount = money(_("Up to"), required=True, min_value=Decimal("0.01"))


class SendForm(forms.Form):
    on = day(_("Sent on"), required=False)
    promised_on = day(_("Promised for"), required=False, help_text=NO_DATE)


class PromiseForm(forms.Form):
    promised_on = day(_("They now promise"), help_text=_("The first promise stays: lateness is counted from it."))


class BackForm(forms.Form):
    on = day(_("Came back on"), required=False)
    what_was_done = words(_("What the shop did"))
    put_right = forms.TypedMultipleChoiceField(
        required=False, coerce=int, widget=forms.CheckboxSelectMultiple, label=_("Fixed")
    )
    warranty_until = day(_("Warranty until"), required=False)

    def __init__(self, *args: Any, asked: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_choices(self, "put_right", asked)
        if not asked:
            del self.fields["put_right"]


class InvoiceForm(forms.Form):
    amount = money(_("Amount of the bill"), required=True)
    number = forms.CharField(max_length=60, required=False, label=_("Bill number"), widget=PLAIN)
    on = day(_("Date of the bill"))


class CallOffForm(forms.Form):
    because = forms.CharField(max_length=200, label=_("Why"), widget=PLAIN)


class TakeBackForm(OnceForm):
    number = forms.IntegerField(widget=forms.HiddenInput)
    because = forms.CharField(max_length=200, label=_("Why"), widget=PLAIN)
