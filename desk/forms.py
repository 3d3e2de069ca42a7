"""What is typed on the pages that join the rooms."""

from __future__ import annotations

from django import forms


class FindForm(forms.Form):
    text = forms.CharField(
        label="Number on the tag, or serial",
        max_length=300,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "inputmode": "text", "enterkeyhint": "go"}
        ),
    )


class ReportForm(forms.Form):
    text = forms.CharField(
        label="What is wrong?",
        max_length=2000,
        help_text="Please do not write anybody's name.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    # Filled by machines only; people do not see it.
    website = forms.CharField(required=False, widget=forms.TextInput(attrs={"tabindex": "-1", "autocomplete": "off"}))
