"""A legal hold: why, and until when."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm


class HoldForm(OnceForm):
    reason = forms.CharField(
        max_length=400,
        label=_("Reason"),
        help_text=_("The case or request that asks for it. Please do not include anyone's name."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    ends_on = forms.DateField(label=_("Last day"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
