"""What narrows the list of jobs, and what is asked when an instrument comes to the bench."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_queryset
from repairs.models import Bench, JobQuerySet


class JobFilterForm(forms.Form):
    """Unknown values count as not given, so that an old link still shows a list."""

    q = forms.CharField(
        required=False, label=_("Number or serial"), max_length=100, widget=forms.TextInput(attrs={"type": "search"})
    )
    state = forms.ChoiceField(required=False, label=_("Show"), choices=(("open", _("Open")), ("closed", _("Closed"))))
    bench = forms.ModelChoiceField(
        required=False,
        queryset=Bench.objects.none(),
        empty_label=_("All benches"),
        to_field_name="code",
        label=_("Bench"),
    )

    def __init__(self, *args: Any, benches: QuerySet[Bench], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if benches.count() < 2:
            del self.fields["bench"]
        else:
            set_queryset(self, "bench", benches)

    @property
    def shows_closed(self) -> bool:
        self.is_valid()
        return bool(self.cleaned_data.get("state") == "closed")

    def narrow(self, rows: JobQuerySet) -> JobQuerySet:
        self.is_valid()
        data = self.cleaned_data
        if data.get("bench"):
            rows = rows.filter(bench=data["bench"])
        text = (data.get("q") or "").strip()
        if text:
            rows = rows.filter(Q(instrument__asset_number__icontains=text) | Q(instrument__serial__icontains=text))
        return rows


class OpenJobForm(OnceForm):
    bench = forms.ModelChoiceField(
        queryset=Bench.objects.none(),
        to_field_name="code",
        empty_label=None,
        label=_("Bench"),
        error_messages={"required": _("Choose a bench."), "invalid_choice": _("That bench no longer exists.")},
    )
    because = forms.CharField(required=False, max_length=200, label=_("Why it needs the bench"))
    due_on = forms.DateField(
        required=False,
        label=_("Needed by"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": _("Enter the date as year-month-day, for example 2026-09-30.")},
    )

    def __init__(self, *args: Any, benches: QuerySet[Bench], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.benches = benches
        set_queryset(self, "bench", benches)
