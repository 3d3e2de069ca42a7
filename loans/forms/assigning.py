"""Acts on an assignment, and the choice for one of its lines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices, set_queryset
from inventory.models import Instrument, School
from loans.models import AssignmentLine
from loans.rules.assigning import Keeps

KEEPS_WORDS = {
    Keeps.NOTHING: _("may go out"),
    Keeps.CLEANING: _("to be cleaned"),
    Keeps.BENCH: _("on the bench or at a shop"),
    Keeps.OUT: _("with a student"),
    Keeps.OTHER: _("stays in"),
}


class ProposeForm(OnceForm):
    """For which school an assignment is proposed."""

    school = forms.ModelChoiceField(queryset=School.objects.none(), widget=forms.HiddenInput)

    def __init__(self, *args: Any, schools: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "school", schools)


class AssignmentForm(forms.Form):
    """What was on the page: its revision, and which assignment was locked."""

    seen = forms.IntegerField(widget=forms.HiddenInput)
    replaces = forms.IntegerField(required=False, widget=forms.HiddenInput)
    instrument = forms.ModelChoiceField(queryset=Instrument.objects.none(), required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "instrument", school.instruments.all())


class LineForm(forms.Form):
    """The instrument of one line; one that is planned for somebody else is exchanged."""

    seen = forms.IntegerField(widget=forms.HiddenInput)
    instrument = forms.ChoiceField(required=False, label=_("Instrument"))

    def __init__(self, *args: Any, line: AssignmentLine, choices: Sequence[dict[str, Any]], **kwargs: Any) -> None:
        kwargs["initial"] = {"seen": line.assignment.revision, "instrument": line.instrument_id or ""}
        super().__init__(*args, **kwargs)
        self.instruments = {str(one["instrument"].pk): one["instrument"] for one in choices}
        named = [(key, choice_words(one)) for key, one in zip(self.instruments, choices, strict=True)]
        set_choices(self, "instrument", [("", gettext("None")), *named])

    def chosen(self) -> Instrument | None:
        return self.instruments.get(self.cleaned_data["instrument"])


def choice_words(choice: dict[str, Any]) -> str:
    """Say an instrument in a line: its number, what keeps it in, and for whom it is planned."""
    words = [str(choice["instrument"].asset_number), str(KEEPS_WORDS[choice["offer"].keeps])]
    if choice["is_excluded"]:
        words.append(gettext("left out"))
    if choice["for"]:
        words.append(gettext("planned for %(student)s") % {"student": choice["for"].student})
    return " · ".join(words)
