"""How far back the season's questions look."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

USUAL_DAYS = 365
SPANS = ((90, _("Last three months")), (USUAL_DAYS, _("Last twelve months")), (1095, _("Last three years")))


class SeasonForm(forms.Form):
    """An unknown span counts as not given, so that an old link still shows a page."""

    span = forms.ChoiceField(required=False, label=_("Look back"), choices=SPANS)

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, initial={"span": USUAL_DAYS}, **kwargs)

    @property
    def days(self) -> int:
        return int(self.cleaned_data.get("span") or USUAL_DAYS) if self.is_valid() else USUAL_DAYS
