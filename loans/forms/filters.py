"""Filters of the lists of loans and students."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django import forms
from django.db.models import Q, QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import set_choices, set_queryset
from core.keys import key_of
from inventory.catalog.load import catalog
from inventory.models import School
from loans.models import ClassPeriod, ClassPeriodQuerySet, LoanQuerySet, Student, StudentQuerySet, named_by
from loans.pages.signing_links import ON_DAY
from loans.selectors.seats import seats_in
from loans.selectors.signing_links import link_of_each

STATES = (
    ("open", _("Out now")),
    ("overdue", _("Overdue")),
    ("to_sign", _("To sign")),
    ("returned", _("Returned")),
    ("all", _("All")),
)
NO_LINK = "none"
LINKS = (
    ("", _("Any")),
    (NO_LINK, _("No link yet")),
    *((one.value, one.label) for one in ON_DAY),
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
    school = forms.ModelChoiceField(
        label=_("School"), required=False, queryset=School.objects.none(), empty_label=_("All schools")
    )
    period = forms.ModelChoiceField(
        required=False, queryset=ClassPeriod.objects.none(), label=_("Class"), empty_label=_("All classes")
    )
    link = forms.ChoiceField(required=False, choices=LINKS, label=_("Link to sign"))

    def __init__(self, *args: Any, schools: Any, periods: ClassPeriodQuerySet | None = None, **kwargs: Any) -> None:
        """``periods`` are the classes to choose from; those of many schools are offered once one is chosen."""
        super().__init__(*args, **kwargs)
        kinds = [(kind.code, kind.name) for kind in catalog().kinds.values()]
        set_choices(self, "kind", [("", gettext("All kinds")), *kinds])
        if schools.count() < 2:
            del self.fields["school"]
        else:
            set_queryset(self, "school", schools)
            chosen = key_of(str(self.data.get("school", "")))
            periods = periods.filter(school=chosen) if periods is not None and chosen else None
        if periods is None or not periods.exists():
            del self.fields["period"]
        else:
            set_queryset(self, "period", periods)

    def chosen_state(self) -> str:
        return self.cleaned_data.get("state") or "open"

    @property
    def is_to_sign(self) -> bool:
        """Whether nothing is shown but what is still to be signed."""
        return self.chosen_state() == "to_sign" or bool(self.cleaned_data.get("link"))

    def narrow(self, rows: LoanQuerySet, *, today: date, now: datetime, named_schools: frozenset[int]) -> LoanQuerySet:
        """Apply the filters. Names are searched only at schools where the user may see them."""
        self.is_valid()
        data = self.cleaned_data
        rows = in_state(rows, self.chosen_state(), today=today)
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
        if data.get("period"):
            rows = rows.filter(student__in=seats_in(data["period"]).order_by().values("student"))
        if data.get("link"):
            rows = with_link(rows.unsigned(), data["link"], now=now)
        return rows


def schools_in(form: forms.Form, schools: QuerySet[School]) -> list[int]:
    """Return the key of the school that a form narrowed its rows to, else two of them at most: more say no more."""
    chosen: School | None = form.cleaned_data.get("school")
    return [chosen.pk] if chosen else list(schools.values_list("pk", flat=True)[:2])


def in_state(rows: LoanQuerySet, state: str, *, today: date) -> LoanQuerySet:
    match state:
        case "open":
            return rows.open()
        case "overdue":
            return rows.overdue(today=today)
        case "to_sign":
            return rows.unsigned()
        case "returned":
            return rows.not_undone().filter(returned_at__isnull=False)
        case _:
            return rows.not_undone()


def with_link(rows: LoanQuerySet, state: str, *, now: datetime) -> LoanQuerySet:
    """Return the loans whose link stands there; where it stands is not all in its row, so it is worked out for each."""
    if state == NO_LINK:
        return rows.filter(signing_links=None, student__who=Student.Who.STUDENT)
    keys = rows.exclude(signing_links=None).order_by().values_list("pk", flat=True)
    links = link_of_each(list(keys), at=now)
    return rows.filter(pk__in=[loan for loan, (_link, standing) in links.items() if standing == state])


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
