"""What narrows the list of care, and what is typed when it was done."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, RowsField, errors_of, set_choices, set_queryset
from inventory.catalog.load import catalog
from inventory.models import Instrument, School


class CareFilterForm(forms.Form):
    """Unknown values count as not given, so that an old link still shows a list."""

    school = forms.ModelChoiceField(
        required=False,
        queryset=School.objects.none(),
        empty_label=_("All schools"),
        to_field_name="code",
        label=_("School"),
    )
    kind = forms.ChoiceField(required=False, label=_("Kind"))

    def __init__(self, *args: Any, schools: QuerySet[School], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer(catalog().kinds)
        if schools.count() < 2:
            del self.fields["school"]
        else:
            set_queryset(self, "school", schools)

    def offer(self, kinds: Iterable[str]) -> None:
        """Offer the kinds with these codes to choose from."""
        named = [(code, catalog().kinds[code].name) for code in sorted(kinds) if code in catalog().kinds]
        set_choices(self, "kind", [("", gettext("All kinds")), *sorted(named, key=lambda one: one[1])])

    def chosen(self) -> dict[str, Any]:
        """Return the school (or None) and the code of the kind (or "")."""
        self.is_valid()
        return {"school": self.cleaned_data.get("school"), "kind": self.cleaned_data.get("kind") or ""}


class TickedOrAll(forms.CheckboxSelectMultiple):
    """The ticked ones; with the button for all, every one that the page listed."""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        return super().value_from_datadict(data, files, "listed" if "all" in data else name)


class CareDoneForm(OnceForm):
    """Which care, to which of these instruments, on what day."""

    code = forms.CharField(max_length=40, widget=forms.HiddenInput)
    instruments = RowsField(
        queryset=Instrument.objects.none(),
        required=False,
        widget=TickedOrAll,
        error_messages={"invalid_choice": _("One of these instruments has left this set since the page was opened.")},
    )
    done_on = forms.DateField(label=_("Done on"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    def __init__(self, *args: Any, instruments: QuerySet[Instrument], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["done_on"].initial = today
        set_queryset(self, "instruments", instruments)

    @property
    def sentence(self) -> str:
        """What was refused, ready to be shown."""
        return " ".join([gettext("Nothing was recorded."), *errors_of(self)])

    @property
    def ticked(self) -> set[str]:
        return set(self["instruments"].data or ())
