"""Taking an instrument to the bench."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from core.forms import set_queryset
from repairs.models import Bench


class OpenJobForm(forms.Form):
    bench = forms.ModelChoiceField(
        queryset=Bench.objects.none(),
        to_field_name="code",
        empty_label=None,
        label=_("Bench"),
        error_messages={"required": _("Choose a bench."), "invalid_choice": _("That bench no longer exists.")},
    )
    because = forms.CharField(required=False, max_length=200, label=_("Why it comes to the bench"))
    due_on = forms.DateField(
        required=False,
        label=_("Needed by"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": _("Enter the date as year-month-day, for example 2026-09-30.")},
    )

    def __init__(self, *args: Any, benches: QuerySet[Bench], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "bench", benches)
