"""What is typed or scanned."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from core.forms import OneSentence


class FindForm(forms.Form):
    text = forms.CharField(
        label=_("Number or serial"),
        max_length=300,
        error_messages={"required": _("Type a number first, or scan the tag.")},
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "inputmode": "text", "enterkeyhint": "go"}
        ),
    )


class GiveBackForm(OneSentence, forms.Form):
    """One box for scan after scan, and when what comes in is inspected."""

    text = forms.CharField(
        label=_("Tag or number"),
        max_length=300,
        error_messages={"required": _("Scan a tag or type a number.")},
        widget=forms.TextInput(
            attrs={
                "autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false", "enterkeyhint": "go",
                "autofocus": True,
            }
        ),
    )  # fmt: skip
    now = forms.BooleanField(
        label=_("Inspect each one in line"),
        help_text=_("Otherwise it goes onto the pile and is inspected later."),
        required=False,
    )
