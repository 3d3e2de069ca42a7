"""Which other record is the same student."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import set_queryset
from loans.models import Student, StudentQuerySet


class MergeStudentForm(forms.Form):
    """``other`` is to be merged; ``apart`` was merged and is taken apart."""

    other = forms.ModelChoiceField(
        queryset=Student.objects.none(),
        required=False,
        label=_("The other record"),
        help_text=_("Students of the school with the same family name, or a name like it."),
    )
    apart = forms.ModelChoiceField(queryset=Student.objects.none(), required=False)

    def __init__(self, *args: Any, others: StudentQuerySet, merged: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "other", others)
        set_queryset(self, "apart", merged)
        self.merged = merged

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not (data.get("other") or data.get("apart")):
            self.add_error("other", gettext("Choose the other record."))
        return data
