"""The plan of a sample, what was found at an instrument, and why a sample is stopped."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_queryset
from inventory.models import Sample, SampleItem, School, Strata, Tested
from inventory.rules.sample_frame import MOST_BANDS, ValueBands
from inventory.rules.sampling import BINOMIAL, HYPERGEOMETRIC
from inventory.services.samples import Plan

USUAL_CUTS = "500, 1000, 3000"


AMOUNT = re.compile(r"\$?(\d{1,3}(?:,\d{3})+|\d{1,7})(\.\d{1,2})?", re.ASCII)


def _amount(typed: str) -> Decimal:
    """Return an amount as people type it; ValueError for anything else."""
    if (found := AMOUNT.fullmatch(typed)) is None:
        raise ValueError(typed)
    return Decimal(found[1].replace(",", "") + (found[2] or ""))


class PercentField(forms.DecimalField):
    """Typed in percent, cleaned to a share."""

    def __init__(self, *, low: str, high: str, **kwargs: Any) -> None:
        super().__init__(
            min_value=Decimal(low), max_value=Decimal(high), max_digits=4, decimal_places=2,
            widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}), **kwargs,
        )  # fmt: skip

    def clean(self, value: Any) -> Decimal | None:
        percent = super().clean(value)
        return None if percent is None else percent.scaleb(-2)


class SamplePlanForm(OnceForm):
    """What is tested, how sure the auditor must be, and what it is drawn from."""

    school = forms.ModelChoiceField(label=_("Fleet"), queryset=School.objects.none(), to_field_name="code")
    tested = forms.MultipleChoiceField(
        label=_("What is tested"), choices=Tested, required=False, widget=forms.CheckboxSelectMultiple
    )
    tested_words = forms.CharField(
        label=_("Something else"), required=False, max_length=300, help_text=_("In your own words.")
    )
    confidence = PercentField(label=_("Confidence, percent"), low="50", high="99.9")
    tolerable = PercentField(
        label=_("Tolerable rate, percent"), low="0.1", high="50",
        help_text=_("The share of wrong records that you can accept."),
    )  # fmt: skip
    expected = PercentField(
        label=_("Expected rate, percent"), low="0", high="49",
        help_text=_("The share that you expect. At 0, a single deviation fails the sample."),
    )  # fmt: skip
    distribution = forms.ChoiceField(
        label=_("Distribution"),
        choices=[
            (HYPERGEOMETRIC, _("With the size of the fleet (hypergeometric)")),
            (BINOMIAL, _("As for a very large fleet (binomial)")),
        ],
        help_text=_("Samples drawn by strata always use the binomial, which errs on the safe side."),
    )
    strata = forms.ChoiceField(label=_("Strata"), choices=Strata)
    cuts = forms.CharField(
        label=_("Replacement cost: a new stratum from"), required=False, max_length=80,
        help_text=_("In dollars, rising. Used only for strata by replacement cost."),
    )  # fmt: skip
    seed = forms.RegexField(
        r"^[A-Za-z0-9-]{1,64}$", label=_("Seed"), required=False, max_length=64,
        help_text=_("Leave blank for a random one. Type one to draw with dice or a published number."),
        error_messages={"invalid": _("Letters, digits and hyphens only.")},
    )  # fmt: skip

    def __init__(self, *args: Any, schools: QuerySet[School], has_all: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fleet = self.fields["school"]
        set_queryset(self, "school", schools)
        if has_all:
            fleet.required = False
            fleet.empty_label = _("The whole district")  # type: ignore[attr-defined]
        else:
            fleet.empty_label = None  # type: ignore[attr-defined]

    def clean_cuts(self) -> tuple[Decimal, ...]:
        typed = [one for one in re.split(r"[\s;]+|,(?!\d{3}\b)\s*|,\s+", self.cleaned_data["cuts"]) if one]
        try:
            cuts = tuple(_amount(one) for one in typed)
            if cuts:
                ValueBands(cuts)
        except ValueError:
            words = gettext("Enter up to %(most)d rising amounts, such as %(usual)s.")
            raise forms.ValidationError(words % {"most": MOST_BANDS - 1, "usual": USUAL_CUTS}) from None
        return cuts

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if not data.get("tested") and not data.get("tested_words") and "tested" not in self.errors:
            self.add_error("tested", gettext("Say what is tested."))
        expected, tolerable = data.get("expected"), data.get("tolerable")
        if expected is not None and tolerable is not None and expected >= tolerable:
            self.add_error("expected", gettext("The expected rate must be below the tolerable rate."))
        if data.get("strata") == Strata.VALUE and not data.get("cuts") and "cuts" not in self.errors:
            self.add_error("cuts", gettext("Enter the amounts that divide the strata."))
        return data

    @property
    def plan(self) -> Plan:
        """What a valid form asks for."""
        sent = self.cleaned_data
        return Plan(
            confidence=sent["confidence"],
            tolerable=sent["tolerable"],
            expected=sent["expected"],
            tested=tuple(sent["tested"]),
            tested_words=sent["tested_words"],
            is_binomial=sent["distribution"] == BINOMIAL,
            strata=sent["strata"],
            cuts=sent["cuts"] if sent["strata"] == Strata.VALUE else (),
        )


class ExamineForm(forms.Form):
    """What was found at one instrument; the button pressed is the result."""

    result = forms.ChoiceField(choices=SampleItem.Result, error_messages={"required": _("Choose what you found.")})
    note = forms.CharField(
        label=_("Note"), required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("What is not as recorded, or where you looked. No students' names."),
    )  # fmt: skip
    seen = forms.CharField(required=False, widget=forms.HiddenInput)  # the result that the page showed


class StopSampleForm(forms.Form):
    because = forms.ChoiceField(label=_("Why"), choices=Sample.Stopped, widget=forms.RadioSelect)
