"""What is decided about a horn."""

from __future__ import annotations

from django import forms

from core.forms import OnceForm
from repairs.forms.stock import PLAIN
from repairs.models import Answer


class DecideForm(OnceForm):
    answer = forms.ChoiceField(choices=Answer, widget=forms.RadioSelect, label="It is decided")
    because = forms.CharField(
        max_length=400, required=False, label="Why", widget=PLAIN,
        help_text="Needed where you decide otherwise than the arithmetic.",
    )  # fmt: skip
    is_student_waiting = forms.BooleanField(required=False, widget=forms.HiddenInput)


class SettleForm(forms.Form):
    answer = forms.ChoiceField(choices=[("yes", "Approve"), ("no", "Do not approve")])
    note = forms.CharField(max_length=200, required=False, label="Why not", widget=PLAIN)
