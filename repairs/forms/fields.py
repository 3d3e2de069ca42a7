"""Fields that several forms of the bench ask for: numbers, money, days and words."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from core.money import dollars
from repairs.rules.bounds import MOST, MOST_EACH

PLAIN = forms.TextInput(attrs={"autocomplete": "off"})


def number(label: Any, *, least: Decimal = Decimal(0), most: Decimal = MOST, **more: Any) -> forms.DecimalField:
    low = _("Enter 0 or more.") if not least else _("Enter more than 0.")
    fields: dict[str, Any] = {"min_value": least, "max_value": most, "decimal_places": 3} | more
    return forms.DecimalField(
        label=label,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
        error_messages={
            "min_value": low,
            "max_value": format_lazy(_("Enter {most} or less."), most=f"{most:,}"),
            "max_decimal_places": _("Round it to three digits after the point."),
        },
        **fields,
    )


def money(label: Any, *, most: Decimal = MOST_EACH, **more: Any) -> forms.DecimalField:
    field = number(label, most=most, **({"decimal_places": 2, "required": False} | more))
    field.error_messages |= {
        "min_value": _("Enter $0 or more."),
        "max_value": format_lazy(_("Enter {most} or less."), most=dollars(most)),
        "max_decimal_places": _("Enter dollars and cents."),
    }
    return field


def day(label: Any, **more: Any) -> forms.DateField:
    return forms.DateField(label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **more)


def words(label: Any, *, rows: int = 4, **more: Any) -> forms.CharField:
    return forms.CharField(max_length=2000, label=label, widget=forms.Textarea(attrs={"rows": rows}), **more)
