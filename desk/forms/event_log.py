"""What is asked of the event log."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import set_choices, set_queryset
from core.models import User
from desk.forms.value import check_day
from desk.selectors.event_log import LogFilter
from loans.forms.mistakes import DAY

SHOW = (
    ("", _("All entries")),
    ("late", _("Entered after the day it happened")),
    ("corrections", _("Corrected or undone")),
    ("exports", _("Lists exported")),
)


class LogFilterForm(forms.Form):
    """A value that is not offered does not narrow the log, and is reported beside its field."""

    number = forms.CharField(
        required=False,
        label=_("Asset number"),
        max_length=20,
        widget=forms.TextInput(attrs={"type": "search", "autocapitalize": "characters"}),
    )
    since = forms.DateField(required=False, label=_("From"), widget=DAY, validators=[check_day])
    until = forms.DateField(required=False, label=_("Through"), widget=DAY, validators=[check_day])
    show = forms.ChoiceField(required=False, label=_("Show"), choices=SHOW)
    person = forms.ModelChoiceField(
        required=False, queryset=User.objects.none(), label=_("Person"), empty_label=_("Everybody")
    )
    act = forms.ChoiceField(required=False, label=_("Act"))

    def __init__(self, data: Any, *, people: Any, acts: Sequence[tuple[str, str]]) -> None:
        super().__init__(data)
        set_queryset(self, "person", people)
        set_choices(self, "act", [("", gettext("All acts")), *acts])

    def narrowed(self) -> LogFilter:
        """Return what is asked, without what cannot be understood."""
        self.is_valid()
        given = {name: value for name, value in self.cleaned_data.items() if value}
        return LogFilter(**given)
