"""One figure of the district, from a day on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.dates import MONTHS
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm
from inventory.catalog.figures import FigureError, FigureRule, Shape, zone_choices

DAYS = [(str(day), str(day)) for day in range(1, 32)]
USE_DEFAULT = "default"  # the button that gives a figure back to the catalog
YES_NO = [("1", _("Yes")), ("0", _("No"))]


class MonthDayWidget(forms.MultiWidget):
    """A day of every year: its month, then the day."""

    use_fieldset = True

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        months = [(str(number), name) for number, name in MONTHS.items()]
        super().__init__(
            {
                "month": forms.Select({"aria-label": _("Month")}, choices=months),
                "day": forms.Select({"aria-label": _("Day")}, choices=DAYS),
            },
            attrs,
        )

    def decompress(self, value: str | None) -> list[str | None]:
        month, _dash, day = (value or "").partition("-")
        return [month.lstrip("0") or None, day.lstrip("0") or None]


class MonthDayField(forms.MultiValueField):
    """Compressed into the text that a figure is kept as: "5-29"."""

    widget = MonthDayWidget

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(fields=(forms.CharField(max_length=2), forms.CharField(max_length=2)), **kwargs)

    def compress(self, data_list: Sequence[str]) -> str:
        return "-".join(data_list) if data_list else ""


def field_for(rule: FigureRule, value: str) -> forms.Field:
    """The field of a figure, with its unit and what is accepted beside it."""
    common: dict[str, Any] = {"label": rule.name, "initial": value}
    if rule.shape is Shape.ZONE:
        return forms.ChoiceField(choices=zone_choices, **common)
    if rule.shape is Shape.DAY:
        return MonthDayField(**common)
    if rule.shape is Shape.YES_NO:
        return forms.ChoiceField(choices=YES_NO, widget=forms.RadioSelect, **common)
    keys = {"inputmode": "numeric" if rule.is_whole else "decimal"}
    field = forms.CharField(
        max_length=40,
        help_text=rule.hint_words,
        widget=forms.TextInput(attrs={"autocomplete": "off", **({} if rule.shape is Shape.RANGE else keys)}),
        **common,
    )
    field.initial = rule.typed(value)
    return field


def check_typed(rule: FigureRule, typed: str) -> str:
    """What was typed, if it is accepted; ValidationError with what is."""
    try:
        rule.read(typed)
    except FigureError as error:
        raise ValidationError(str(error)) from None
    return typed


class FigureForm(OnceForm):
    """``rule`` is the figure, ``value`` what holds now."""

    effective_on = forms.DateField(
        label=_("From"),
        help_text=_("The day it takes effect on its own. Not in the past."),
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    because = forms.CharField(
        required=False,
        max_length=200,
        label=_("Why"),
        help_text=_("Such as the bill or the price list it comes from. It is shown beside the value and in the log."),
    )
    field_order = ("value", "effective_on", "because")

    def __init__(self, *args: Any, rule: FigureRule, value: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rule = rule
        self.fields["value"] = field_for(rule, value)
        self.fields["effective_on"].initial = today.isoformat()
        self.fields["effective_on"].widget.attrs["min"] = today.isoformat()
        self.order_fields(self.field_order)
        self.is_given_back = USE_DEFAULT in self.data
        self.fields["value"].required = not self.is_given_back

    def clean_value(self) -> str:
        """What was typed; "" for the default again, whatever stands in the field."""
        return "" if self.is_given_back else check_typed(self.rule, self.cleaned_data["value"])
