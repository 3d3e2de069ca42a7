"""What is decided about an instrument, and whether that is approved."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_queryset
from repairs.forms.fields import PLAIN
from repairs.models import ANSWER_LABELS, Bench


class DecideForm(OnceForm):
    answer = forms.ChoiceField(choices=ANSWER_LABELS, widget=forms.RadioSelect, label=_("Decision"))
    because = forms.CharField(
        max_length=400, required=False, label=_("Why"), widget=PLAIN,
        help_text=_("Needed if you decide against the math."),
    )  # fmt: skip
    bench = forms.ModelChoiceField(
        queryset=Bench.objects.none(), to_field_name="code", required=False, empty_label=_("Choose later"),
        label=_("Bench"), help_text=_("For a repair here: its job opens there at once."),
    )  # fmt: skip
    is_student_waiting = forms.BooleanField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, benches: QuerySet[Bench], **kwargs: Any) -> None:
        """Ask for a bench where there are several; a single one is taken."""
        super().__init__(*args, **kwargs)
        self.benches = list(benches)
        if len(self.benches) > 1:
            set_queryset(self, "bench", benches)
            self.fields["bench"].initial = self.benches[0].code
        else:
            del self.fields["bench"]

    def decided(self) -> dict[str, Any]:
        """What decide_worth takes of it."""
        given = dict(self.cleaned_data)
        given.setdefault("bench", self.benches[0] if self.benches else None)
        return given


class SettleForm(forms.Form):
    answer = forms.ChoiceField(choices=[("yes", _("Approve")), ("no", _("Do not approve"))])
    note = forms.CharField(max_length=200, required=False, label=_("Why not"), widget=PLAIN)
