"""What narrows the list of care, and what is typed when it was done."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet

from core.forms import set_choices, set_queryset
from inventory.catalog.load import catalog
from inventory.models import Instrument, InstrumentQuerySet, School


class CareFilterForm(forms.Form):
    """Unknown values count as not given, so that an old link still shows a list."""

    school = forms.ModelChoiceField(
        required=False, queryset=School.objects.none(), empty_label="All schools", to_field_name="code", label="School"
    )
    kind = forms.ChoiceField(required=False, label="Kind")

    def __init__(self, *args: Any, schools: QuerySet[School], kinds: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = catalog().kinds
        named = [(code, kind.name) for code, kind in known.items() if code in kinds]
        set_choices(self, "kind", [("", "All kinds"), *named])
        if schools.count() < 2:
            del self.fields["school"]
        else:
            set_queryset(self, "school", schools)

    def narrow(self, rows: InstrumentQuerySet) -> InstrumentQuerySet:
        self.is_valid()
        data = self.cleaned_data
        if data.get("school"):
            rows = rows.filter(school=data["school"])
        return rows.filter(kind_code=data["kind"]) if data.get("kind") else rows


class CareDoneForm(forms.Form):
    """Which care, to which of these instruments, on what day."""

    code = forms.CharField(max_length=40, widget=forms.HiddenInput)
    horns = forms.ModelMultipleChoiceField(queryset=Instrument.objects.none(), required=False)
    done_on = forms.DateField(label="Done on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    def __init__(self, *args: Any, horns: QuerySet[Instrument], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["done_on"].initial = today
        set_queryset(self, "horns", horns)
