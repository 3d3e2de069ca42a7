"""Something new seen on the bench, or damaged there."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices
from inventory.catalog.load import catalog
from inventory.catalog.schema import Part
from inventory.models import SEVERITY_LABELS
from inventory.pages.inspecting import fault_choices
from repairs.forms.steps import NotedForm

TYPED = ("fault", "severity", "note")


class FindingForm(OnceForm, NotedForm):
    """A fault that fits the part's role, how bad, and where."""

    fault = forms.ChoiceField(
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose what is wrong first, then how bad."),
            "invalid_choice": _("That fault does not fit this part."),
        },
    )
    severity = forms.ChoiceField(
        choices=list(SEVERITY_LABELS.items()),
        error_messages={"required": _("Choose how bad it is: light, moderate or severe.")},
    )
    place = forms.ChoiceField(required=False, label=_("Which one"))

    def __init__(self, *args: Any, part: Part, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        trade = catalog()
        self.part = part
        set_choices(self, "fault", [(code, trade.fault_name(code)) for code in trade.faults_at(part)])
        if part.places:
            places = [("", gettext("The whole part")), *((spot.code, spot.name) for spot in part.places)]
            set_choices(self, "place", places)
        else:
            del self.fields["place"]

    def finding(self) -> dict[str, str]:
        data = self.cleaned_data
        return {"part": self.part.code, "place": data.get("place", ""), **{name: data[name] for name in TYPED}}

    def lines(self) -> list[dict[str, Any]]:
        """Each fault with what light, moderate and severe mean for it."""
        chosen = self["fault"].value()
        return [line | {"is_chosen": line["code"] == chosen} for line in fault_choices(self.part)]
