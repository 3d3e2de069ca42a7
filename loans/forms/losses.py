"""A lost or stolen instrument: how it was noticed, what was done, how it ended."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices
from loans.forms.ledger import amount_field
from loans.forms.mistakes import DAY
from loans.models import Loss
from loans.rules.losses import Kind, steps_of
from loans.selectors.losses import days_done

OFF = {"autocomplete": "off"}
STEP = "step_"


def circumstances_field() -> forms.CharField:
    return forms.CharField(
        required=False,
        max_length=400,
        label=_("Where and when it was last seen"),
        help_text=_("Please do not include anyone's name."),
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class ReportLossForm(OnceForm):
    sort = forms.ChoiceField(choices=Loss.Sort, label=_("What happened?"), widget=forms.RadioSelect)
    noticed_on = forms.DateField(label=_("Noticed on"), widget=DAY)
    circumstances = circumstances_field()


class LossForm(forms.Form):
    """What was done when, and under which numbers it was reported."""

    circumstances = circumstances_field()
    police_agency = forms.CharField(
        required=False, max_length=80, label=_("Police agency"), widget=forms.TextInput(OFF)
    )
    police_number = forms.CharField(
        required=False, max_length=40, label=_("Report number"), widget=forms.TextInput(OFF)
    )
    insurer = forms.CharField(required=False, max_length=80, label=_("Insurer"), widget=forms.TextInput(OFF))
    claim_number = forms.CharField(required=False, max_length=40, label=_("Claim number"), widget=forms.TextInput(OFF))

    def __init__(self, data: Any = None, *, loss: Loss) -> None:
        super().__init__(data, initial={name: getattr(loss, name) for name in self.base_fields})
        self.loss = loss
        done = days_done(loss)
        for step in steps_of(Kind(loss.sort)):
            self.fields[STEP + step.code] = forms.DateField(
                required=False, label=gettext(step.words), widget=DAY, initial=done.get(step.code)
            )
        if loss.sort != Loss.Sort.STOLEN:
            del self.fields["police_agency"], self.fields["police_number"]

    def steps_shown(self) -> Iterator[forms.BoundField]:
        return (field for field in self if field.name.startswith(STEP))

    def typed_shown(self) -> Iterator[forms.BoundField]:
        return (field for field in self if not field.name.startswith(STEP))

    @property
    def steps(self) -> dict[str, date]:
        return {
            name.removeprefix(STEP): day for name, day in self.cleaned_data.items() if name.startswith(STEP) and day
        }

    @property
    def typed(self) -> dict[str, str]:
        return {name: text for name, text in self.cleaned_data.items() if not name.startswith(STEP)}


class ChargeLossForm(OnceForm):
    amount = amount_field(label=_("Charge"))


class EndLossForm(OnceForm):
    outcome = forms.ChoiceField(choices=Loss.Outcome, label=_("How did it end?"), widget=forms.RadioSelect)
    found_on = forms.DateField(required=False, label=_("Found on"), help_text=_("Today, if left empty."), widget=DAY)

    def __init__(self, *args: Any, loss: Loss, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if loss.outcome == Loss.Outcome.GIVEN_UP:
            set_choices(self, "outcome", [(Loss.Outcome.FOUND, Loss.Outcome.FOUND.label)])
            self.fields["outcome"].initial = Loss.Outcome.FOUND
