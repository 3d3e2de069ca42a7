"""Which of the property records."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from core.forms import set_choices
from desk.pages.property import LABELS, SCOPE_LABELS
from inventory.selectors.property import ANY


class PropertyForm(forms.Form):
    """An unknown choice counts as none, so that an old link still shows a page."""

    scope = forms.ChoiceField(required=False, label=_("Of"))
    without = forms.ChoiceField(required=False, label=_("Without"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_choices(self, "scope", SCOPE_LABELS.items())
        set_choices(self, "without", [("", _("Show all")), (ANY, _("anything required")), *LABELS.items()])

    def chosen(self) -> tuple[str, str]:
        """Return the scope, and the field that is to be missing or ""."""
        if not self.is_bound:
            return "all", ""
        self.is_valid()
        return self.cleaned_data.get("scope") or "all", self.cleaned_data.get("without") or ""
