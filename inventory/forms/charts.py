"""Confirming a fingering chart as it was read."""

from __future__ import annotations

from django import forms

from core.forms import OnceForm


class ConfirmChartForm(OnceForm):
    """``digest`` is of the chart that was on the page, so that nobody confirms one they have not read."""

    digest = forms.CharField(required=False, max_length=80, widget=forms.HiddenInput)
