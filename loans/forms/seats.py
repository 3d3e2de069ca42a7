"""Ensembles, classes, and the lines of a class."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, RowsField, set_choices, set_queryset
from core.keys import keys_of
from inventory.catalog.load import catalog
from inventory.models import School
from loans.forms.students import LEVELS
from loans.models import ClassPeriod, Ensemble, Seat, Student
from loans.services.seats import SeatFacts, sizes_of

PRIORITIES = [(number, str(number)) for number in range(1, 10)]


def kind_choices(*, empty: str) -> list[tuple[str, str]]:
    """Return the kinds by name, so that a key or two finds one, after what stands for none."""
    return [("", empty), *sorted(((code, kind.name) for code, kind in catalog().kinds.items()), key=lambda one: one[1])]


class PlaceForm(OnceForm):
    """What ensembles and classes have in common. ``schools`` are the choices; with one, the field is left out."""

    school = forms.ModelChoiceField(queryset=School.objects.none(), label=_("School"))

    def __init__(self, *args: Any, schools: Any, row: Ensemble | ClassPeriod | None = None, **kwargs: Any) -> None:
        if row is not None:
            kwargs["initial"] = {name: getattr(row, name) for name in self.base_fields if hasattr(row, name)}
        super().__init__(*args, **kwargs)
        choices = [row.school] if row is not None else list(schools)
        self.only_school = choices[0] if len(choices) == 1 else None
        if self.only_school:
            del self.fields["school"]
        else:
            set_queryset(self, "school", schools)
        if row is None:
            del self.fields["is_active"]

    @property
    def school_and_facts(self) -> dict[str, Any]:
        """Return the fields for a service that adds."""
        return {"school": self.only_school} | self.cleaned_data

    @property
    def facts(self) -> dict[str, Any]:
        """Return the fields for a service that changes."""
        return {name: value for name, value in self.cleaned_data.items() if name not in {"school", "nonce"}}


class EnsembleForm(PlaceForm):
    name = forms.CharField(max_length=80, label=_("Name"))
    level = forms.ChoiceField(
        choices=LEVELS, label=_("Level"), help_text=_("Which notes its players need. A player's own level may differ.")
    )
    priority = forms.TypedChoiceField(
        choices=PRIORITIES,
        coerce=int,
        initial=5,
        label=_("Priority"),
        help_text=_("Where instruments are too few, 1 comes first."),
    )
    is_active = forms.BooleanField(required=False, label=_("It meets this year"))


class PeriodForm(PlaceForm):
    name = forms.CharField(max_length=80, label=_("Name"), help_text=_("As staff say it, such as Period 2, Band 6."))
    place = forms.IntegerField(
        min_value=0, max_value=99, initial=1, label=_("Place in the day"), help_text=_("Lists use this order.")
    )
    ensemble = forms.ModelChoiceField(
        queryset=Ensemble.objects.none(), required=False, label=_("Ensemble"), empty_label=_("None")
    )
    is_active = forms.BooleanField(required=False, label=_("It meets this year"))

    def __init__(self, *args: Any, schools: Any, **kwargs: Any) -> None:
        super().__init__(*args, schools=schools, **kwargs)
        known = [self.only_school] if self.only_school else schools
        set_queryset(self, "ensemble", Ensemble.objects.filter(school__in=known).select_related("school"))


class SeatsForm(forms.Form):
    """A class: a line for each seat, and one choice for all that are checked.

    Each line carries what it showed, so that only what was changed here is saved.
    """

    for_all = forms.ChoiceField(required=False, label=_("Kind for those checked"))

    def __init__(self, *args: Any, seats: Iterable[Seat], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_choices(self, "for_all", kind_choices(empty=gettext("Choose a kind")))
        self.seats = {seat.pk: seat for seat in seats}
        kinds = kind_choices(empty=gettext("Not said yet"))
        for pk, seat in self.seats.items():
            self.fields[f"kind-{pk}"] = forms.ChoiceField(
                required=False, choices=kinds, initial=seat.kind_code, show_hidden_initial=True, label=_("Plays")
            )
            if sizes := sizes_of(seat.kind_code):
                self.fields[f"size-{pk}"] = forms.ChoiceField(
                    required=False,
                    choices=[("", gettext("Any size")), *((size, size) for size in sizes)],
                    initial=seat.size,
                    show_hidden_initial=True,
                    label=_("Size"),
                )
            self.fields[f"own-{pk}"] = forms.BooleanField(
                required=False, initial=seat.is_own, show_hidden_initial=True, label=_("The family's own")
            )

    def lines(self) -> Iterator[dict[str, Any]]:
        for pk, seat in self.seats.items():
            size = f"size-{pk}"
            yield {
                "seat": seat,
                "kind": self[f"kind-{pk}"],
                "size": self[size] if size in self.fields else None,
                "own": self[f"own-{pk}"],
                "is_checked": pk in self.checked(),
            }

    def checked(self) -> set[int]:
        """Return the seats whose box is checked; what is no seat of this class is left out."""
        sent = self.data.getlist("seat") if hasattr(self.data, "getlist") else ()
        return set(keys_of(sent)) & self.seats.keys()

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if ("set" in self.data or "out" in self.data) and not self.checked():
            self.add_error(None, gettext("Check the students first."))
        elif "set" in self.data and not data.get("for_all"):
            self.add_error("for_all", gettext("Choose a kind."))
        return data

    def changes(self) -> Mapping[int, SeatFacts]:
        """Return by seat what was changed on this page."""
        found: dict[int, SeatFacts] = {}
        columns = {"kind": "kind_code", "size": "size", "own": "is_own"}
        for name in self.changed_data:
            what, _dash, pk = name.partition("-")
            if what in columns and pk:
                found.setdefault(int(pk), {})[columns[what]] = self.cleaned_data[name]  # type: ignore[literal-required]
        if "set" in self.data:
            for key in self.checked():
                found.setdefault(key, {})["kind_code"] = self.cleaned_data["for_all"]
        return found


class ClassStudentsForm(forms.Form):
    """Students to seat in a class, with the kind they play where it is one."""

    students = RowsField(
        queryset=Student.objects.none(), error_messages={"required": _("Check the students who play here.")}
    )
    kind = forms.ChoiceField(required=False, label=_("All of them play"))

    def __init__(self, *args: Any, students: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "students", students)
        set_choices(self, "kind", kind_choices(empty=gettext("Decide later")))
