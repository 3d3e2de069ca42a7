"""What narrows the lists of loans and students."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import Q

from core.forms import set_choices, set_queryset
from inventory.catalog.load import catalog
from inventory.models import School
from loans.models import LoanQuerySet, StudentQuerySet

STATES = (("open", "Out now"), ("overdue", "Overdue"), ("returned", "Returned"), ("all", "All"))


class LoanFilterForm(forms.Form):
    """Unknown values count as not given, so that an old link still shows a list."""

    q = forms.CharField(
        required=False,
        label="Student, number or serial",
        max_length=100,
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    state = forms.ChoiceField(required=False, choices=STATES, label="Show")
    kind = forms.ChoiceField(required=False, label="Kind")
    school = forms.ModelChoiceField(required=False, queryset=School.objects.none(), empty_label="All schools")

    def __init__(self, *args: Any, schools: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kinds = [(kind.code, kind.name) for kind in catalog().kinds.values()]
        set_choices(self, "kind", [("", "All kinds"), *kinds])
        if schools.count() < 2:
            del self.fields["school"]
        else:
            set_queryset(self, "school", schools)

    def state_chosen(self) -> str:
        return self.cleaned_data.get("state") or "open"

    def narrow(self, rows: LoanQuerySet, *, today: date, named_schools: frozenset[int]) -> LoanQuerySet:
        """Apply what was chosen. Names are searched only where the user may read them."""
        self.is_valid()
        data = self.cleaned_data
        match self.state_chosen():
            case "open":
                rows = rows.open()
            case "overdue":
                rows = rows.overdue(today=today)
            case "returned":
                rows = rows.filter(returned_at__isnull=False)
        if data.get("kind"):
            rows = rows.filter(instrument__kind_code=data["kind"])
        if data.get("school"):
            rows = rows.filter(instrument__school=data["school"])
        if data.get("q"):
            text = data["q"].strip()
            rows = rows.filter(
                Q(instrument__asset_number__icontains=text)
                | Q(instrument__serial__icontains=text)
                | Q(student__name__icontains=text, instrument__school__in=named_schools)
            )
        return rows


class StudentFilterForm(forms.Form):
    q = forms.CharField(
        required=False, label="Student or guardian", max_length=100, widget=forms.TextInput(attrs={"type": "search"})
    )
    state = forms.ChoiceField(
        required=False, label="Show", choices=(("current", "At school"), ("left", "Left"), ("all", "All"))
    )

    def narrow(self, rows: StudentQuerySet) -> StudentQuerySet:
        self.is_valid()
        data = self.cleaned_data
        match data.get("state") or "current":
            case "current":
                rows = rows.current()
            case "left":
                rows = rows.filter(left_on__isnull=False)
        if data.get("q"):
            text = data["q"].strip()
            rows = rows.filter(Q(name__icontains=text) | Q(guardian_name__icontains=text))
        return rows
