"""What a season plan is asked for, and what of it starts."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any, Self

from django import forms
from django.core import signing
from django.db.models import QuerySet
from django.utils.dateparse import parse_date
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_queryset
from desk.rules.season_plan import Budgets, Goal
from desk.selectors.season_plan import NO_BENCH
from inventory.models import PurchaseRequest, School
from loans.forms.mistakes import DAY
from repairs.models import BenchQuerySet

SALT = "season-plan"
BESIDE = forms.CheckboxInput(attrs={"form": "start"})  # the form is in the bar, what it asks on the page
MAX_AGE = timedelta(hours=12)
STARTS = ("jobs", "orders", "purchases")


def limit_field(label: Any) -> forms.DecimalField:
    """Return a field of money or hours that may stay empty: no limit."""
    return forms.DecimalField(
        required=False, label=label, min_value=0, max_digits=9, decimal_places=2,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
    )  # fmt: skip


class SeasonPlanForm(forms.Form):
    """Whose seats, by when, with how many hours of each bench and how much money. Empty: no limit."""

    school = forms.ModelChoiceField(
        required=False, label=_("School"), queryset=School.objects.none(), empty_label=_("All schools"),
        to_field_name="code",
    )  # fmt: skip
    needed_by = forms.DateField(required=False, label=_("Ready by"), widget=DAY)
    goal = forms.ChoiceField(
        label=_("Goal"),
        choices=[(Goal.PRIORITY.value, _("Fill the top ensembles first")), (Goal.MOST.value, _("Fill the most seats"))],
    )
    repair_money = limit_field(_("Parts budget"))
    shop_money = limit_field(_("Outside shop budget"))
    purchase_money = limit_field(_("New instrument budget"))

    def __init__(self, *args: Any, schools: QuerySet[School], benches: BenchQuerySet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = {school.pk: school.name for school in schools}
        if len(names) > 1:
            set_queryset(self, "school", schools)
        else:
            del self.fields["school"]
        self.benches = {f"hours_{bench.pk}": bench for bench in benches}
        for name, bench in self.benches.items():
            label = f"{names.get(bench.school_id, '')}, {bench.name}" if len(names) > 1 else bench.name
            self.fields[name] = limit_field(gettext("Hours: %(bench)s") % {"bench": label})
        if set(names) - {bench.school_id for bench in benches}:
            self.fields["hours_none"] = limit_field(_("Hours at schools without a bench"))

    @property
    def budgets(self) -> Budgets:
        limits = {bench.code: self.cleaned_data[name] for name, bench in self.benches.items()}
        limits[NO_BENCH] = self.cleaned_data.get("hours_none")
        hours = {bench: hours for bench, hours in limits.items() if hours is not None}
        money = (self.cleaned_data[name] for name in ("repair_money", "shop_money", "purchase_money"))
        return Budgets(hours or None, *money)


class StartSeasonForm(OnceForm):
    """What a plan starts: jobs, shop orders and purchases, sealed as they were shown, and which of them."""

    plan = forms.CharField(widget=forms.HiddenInput)
    jobs = forms.BooleanField(required=False, initial=True, widget=BESIDE)
    orders = forms.BooleanField(required=False, initial=True, widget=BESIDE)
    purchases = forms.BooleanField(required=False, initial=True, widget=BESIDE)

    def __init__(self, *args: Any, today: date, words: Mapping[str, str] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        if words is None:
            return
        for name, label in words.items():
            self.fields[name].label = label
        for name in STARTS:
            if len(words) < 2 or name not in words:  # there is nothing to choose
                self.fields[name].widget = forms.HiddenInput()
                self.fields[name].initial = name in words

    @classmethod
    def of(cls, page: Mapping[str, Any], *, words: Mapping[str, str], today: date) -> Self:
        needed_by = page["needed_by"]
        plan = {
            "numbers": page["to_start"], "orders": page["to_send"], "waiting": page["to_wait"],
            "requests": page["to_request"], "needed_by": needed_by and str(needed_by),
            "made_on": str(today),
        }  # fmt: skip
        return cls(initial={"plan": signing.dumps(plan, salt=SALT, compress=True)}, words=words, today=today)

    def clean_plan(self) -> dict[str, Any]:
        try:
            plan: dict[str, Any] = signing.loads(self.cleaned_data["plan"], salt=SALT, max_age=MAX_AGE)
        except signing.SignatureExpired:
            raise forms.ValidationError(gettext("This plan is from another day. Run it again.")) from None
        except signing.BadSignature:
            raise forms.ValidationError(gettext("Run the plan again.")) from None
        if plan.get("made_on") != str(self.today):
            raise forms.ValidationError(gettext("This plan is from another day. Run it again."))
        return plan | {"needed_by": parse_date(plan["needed_by"] or "")}

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if not any(cleaned.get(name) for name in STARTS):
            raise forms.ValidationError(gettext("Choose jobs, shop orders or purchases."))
        return cleaned


class ClosePurchaseForm(forms.Form):
    """How a purchase request ended."""

    closed_as = forms.ChoiceField(choices=PurchaseRequest.Closed.choices)


class StartedForm(forms.Form):
    """The moment at which a plan was started."""

    at = forms.DateTimeField()
