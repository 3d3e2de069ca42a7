"""Filters of the lists of loans and students."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import set_choices, set_queryset
from inventory.catalog.load import catalog
from inventory.models import School
from loans.models import LoanQuerySet, Student, StudentQuerySet, named_by

STATES = (
    ("open", _("Out now")),
    ("overdue", _("Overdue")),
    ("to_sign", _("To sign")),
    ("returned", _("Returned")),
    ("all", _("All")),
)
WHO = (
    ("", _("Everybody")),
    (Student.Who.STUDENT, _("Students")),
    (Student.Who.STAFF, _("Staff")),
    (Student.Who.GROUP, _("Groups")),
)


class LoanFilterForm(forms.Form):
    """Unknown values are ignored, so that an old link still shows a list."""

    q = forms.CharField(
        required=False,
        label=_("Student, number or serial"),
        max_length=100,
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    state = forms.ChoiceField(required=False, choices=STATES, label=_("Show"))
    kind = forms.ChoiceField(required=False, label=_("Kind"))
    who = forms.ChoiceField(required=False, choices=WHO, label=_("Who borrows"))
    school = forms.ModelChoiceField(required=False, queryset=School.objects.none(), empty_label=_("All schools"))

    def __init__(self, *args: Any, schools: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kinds = [(kind.code, kind.name) for kind in catalog().kinds.values()]
        set_choices(self, "kind", [("", gettext("All kinds")), *kinds])
        if schools.count() < 2:
            del self.fields["school"]
        else:
            set_queryset(self, "school", schools)

    def chosen_state(self) -> str:
        return self.cleaned_data.get("state") or "open"

    def narrow(self, rows: LoanQuerySet, *, today: date, named_schools: frozenset[int]) -> LoanQuerySet:
        """Apply the filters. Names are searched only at schools where the user may see them."""
        self.is_valid()
        data = self.cleaned_data
        match self.chosen_state():
            case "open":
                rows = rows.open()
            case "overdue":
                rows = rows.overdue(today=today)
            case "to_sign":
                rows = rows.unsigned()
            case "returned":
                rows = rows.not_undone().filter(returned_at__isnull=False)
            case _:
                rows = rows.not_undone()
        if data.get("who"):
            rows = rows.filter(student__who=data["who"])
        if data.get("kind"):
            rows = rows.filter(instrument__kind_code=data["kind"])
        if data.get("school"):
            rows = rows.filter(school=data["school"])
        if data.get("q"):
            text = data["q"].strip()
            rows = rows.filter(
                Q(instrument__asset_number__icontains=text)
                | Q(instrument__serial__icontains=text)
                | Q(school__in=named_schools) & named_by(text, way="student__")
            )
        return rows


class StudentFilterForm(forms.Form):
    q = forms.CharField(
        required=False,
        label=_("Student, number or guardian"),
        max_length=100,
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    state = forms.ChoiceField(
        required=False,
        label=_("Show"),
        choices=(
            ("current", _("Current")),
            ("off", _("Leaving, still out")),
            ("left", _("Left")),
            ("all", _("All")),
        ),
    )
    who = forms.ChoiceField(required=False, choices=WHO, label=_("Who borrows"))

    def narrow(self, rows: StudentQuerySet) -> StudentQuerySet:
        self.is_valid()
        data = self.cleaned_data
        match data.get("state") or "current":
            case "current":
                rows = rows.current()
            case "off":
                rows = rows.off_roster()
            case "left":
                rows = rows.filter(left_on__isnull=False)
        if data.get("who"):
            rows = rows.filter(who=data["who"])
        if data.get("q"):
            text = data["q"].strip()
            rows = rows.search(text)
        return rows
