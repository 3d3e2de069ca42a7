"""What is decided about an instrument, and whether that is approved."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm
from repairs.forms.stock import PLAIN
from repairs.models import ANSWER_LABELS


class DecideForm(OnceForm):
    answer = forms.ChoiceField(choices=ANSWER_LABELS, widget=forms.RadioSelect, label=_("Decision"))
    because = forms.CharField(
        max_length=400, required=False, label=_("Why"), widget=PLAIN,
        help_text=_("Needed if you decide against the math."),
    )  # fmt: skip
    is_student_waiting = forms.BooleanField(required=False, widget=forms.HiddenInput)


class SettleForm(forms.Form):
    answer = forms.ChoiceField(choices=[("yes", _("Approve")), ("no", _("Do not approve"))])
    note = forms.CharField(max_length=200, required=False, label=_("Why not"), widget=PLAIN)
