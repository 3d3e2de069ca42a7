"""Which labels, on which sheet, from which position on; why a tag is replaced or revoked."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices
from inventory.forms.register import kind_choices
from inventory.models import Room, School
from inventory.rules.labels import SHEETS
from inventory.selectors.labels import LabelChoice, numbers_in


class NumbersArea(forms.Textarea):
    """Typed numbers, and those checked in a list: each of them is sent as ``number``."""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        checked = data.getlist("number") if hasattr(data, "getlist") else []
        return " ".join(filter(None, (super().value_from_datadict(data, files, name), *checked))) or None


UNPRINTED, ALL = "unprinted", "all"


class LabelForm(forms.Form):
    """Unknown values count as not given."""

    which = forms.ChoiceField(
        required=False, label=_("Which"), choices=[(UNPRINTED, _("Tags never printed")), (ALL, _("All"))]
    )
    school = forms.ModelChoiceField(
        label=_("School"), required=False, queryset=School.objects.none(), empty_label=_("All schools")
    )
    room = forms.ModelChoiceField(
        label=_("Room"), required=False, queryset=Room.objects.none(), empty_label=_("All rooms")
    )
    kind = forms.ChoiceField(required=False, label=_("Kind"))
    numbers = forms.CharField(
        required=False,
        max_length=10_000,
        label=_("Or these numbers only"),
        help_text=_("Separated by spaces or commas."),
        widget=NumbersArea(attrs={"rows": 2, "autocomplete": "off", "spellcheck": "false"}),
    )
    sheet = forms.ChoiceField(
        required=False, label=_("Sheet"), choices=[(sheet.code, _(sheet.name)) for sheet in SHEETS.values()]
    )
    tag = forms.IntegerField(required=False, min_value=1, widget=forms.HiddenInput)

    def __init__(self, *args: Any, schools: list[School], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rooms: Any = self.fields["room"]
        rooms.queryset = (
            Room.objects.filter(school__in=schools).select_related("school").order_by("school__name", "name")
        )
        if len(schools) < 2:
            del self.fields["school"]
        else:
            offered: Any = self.fields["school"]
            offered.queryset = School.objects.filter(pk__in=[school.pk for school in schools])
            rooms.label_from_instance = lambda room: f"{room.name}, {room.school.name}"
        set_choices(self, "kind", kind_choices())

    def _chosen(self, name: str) -> Any:
        self.is_valid()
        return self.cleaned_data.get(name)

    @property
    def sheet_chosen(self) -> str:
        return self._chosen("sheet") or next(iter(SHEETS))

    def choice(self) -> LabelChoice:
        school, room = self._chosen("school"), self._chosen("room")
        return LabelChoice(
            numbers=numbers_in(self._chosen("numbers") or ""),
            tag=self._chosen("tag"),
            school=school.pk if school else None,
            room=room.pk if room else None,
            kind=self._chosen("kind") or "",
            only_unprinted=self._chosen("which") != ALL,
        )


class StartForm(forms.Form):
    start = forms.IntegerField(min_value=1, max_value=1000, initial=1)


class ReplaceTagForm(OnceForm):
    because = forms.CharField(
        max_length=120,
        label=_("Why"),
        required=False,
        help_text=_("Worn, lost, peeled off: kept in the tag's history."),
    )


class RevokeTagForm(forms.Form):
    because = forms.CharField(
        max_length=120,
        label=_("Why"),
        help_text=_("Anyone who scans the old tag sees that it is not in use, and nothing else."),
        error_messages={"required": _("Give a reason: it is kept in the tag's history.")},
    )
