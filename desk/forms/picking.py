"""What an act asks once for all that is chosen in a list."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices, set_queryset
from inventory.catalog.load import catalog
from inventory.columns import COLUMNS
from inventory.models import Instrument, Room
from loans.forms.mistakes import DAY, DueDateForm
from repairs.rules.care import intervals_for

PLACE = next(one for one in COLUMNS if one.name == "place")


class SelectionDueForm(OnceForm, DueDateForm):
    """The day they are due."""


class SelectionLinksForm(OnceForm):
    """Nothing is asked: each goes to the guardian who can be mailed to."""


class SelectionCareForm(OnceForm):
    """Which care was done, of all that these instruments ask for, and on what day."""

    code = forms.ChoiceField(label=_("Care"), error_messages={"required": _("Choose the care that was done.")})
    done_on = forms.DateField(label=_("Done on"), widget=DAY)

    def __init__(self, *args: Any, instruments: Collection[Instrument], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        asked = {
            care.code
            for one in instruments
            for care in intervals_for(kind=one.kind, options=one.options, catalog=catalog())
        }
        named = [(code, care.name) for code, care in catalog().intervals.items() if code in asked]
        set_choices(self, "code", [("", _("Choose")), *named])
        self.fields["done_on"].initial = today


class SelectionMoveForm(OnceForm):
    """A room of one of the schools that they belong to, and the place in it; left empty, each keeps its own."""

    room = forms.ModelChoiceField(
        queryset=Room.objects.none(),
        label=_("Room"),
        empty_label=_("Choose"),
        error_messages={"required": _("Choose a room.")},
    )
    place = forms.CharField(
        required=False,
        label=_(PLACE.label),
        help_text=_("Leave it blank to keep each one's place. Not the lock's combination."),
        max_length=Instrument._meta.get_field("place").max_length,
    )
    clear_place = forms.BooleanField(required=False, label=_("Clear place"))

    def __init__(self, *args: Any, schools: Collection[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rooms = Room.objects.filter(school__in=schools).select_related("school").order_by("school__name", "name")
        set_queryset(self, "room", rooms)
        if len(schools) > 1:
            room: Any = self.fields["room"]
            room.label_from_instance = lambda one: f"{one.name}, {one.school.name}"

    def columns(self) -> dict[str, Any]:
        """Return what the act changes; the form is validated."""
        room, place, is_cleared = (self.cleaned_data[name] for name in ("room", "place", "clear_place"))
        return {"room": room, "place": place} if place or is_cleared else {"room": room}
