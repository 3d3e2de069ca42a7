"""What an act asks once for all that is chosen in a list."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_queryset
from inventory.columns import COLUMNS
from inventory.models import Instrument, Room
from loans.forms.mistakes import DueDateForm

PLACE = next(one for one in COLUMNS if one.name == "place")


class PickedDueForm(OnceForm, DueDateForm):
    """The day they are due."""


class PickedMoveForm(OnceForm):
    """A room of one of the schools that they belong to, and the place in it; left empty, they have none any more."""

    room = forms.ModelChoiceField(
        queryset=Room.objects.none(),
        label=_("Room"),
        empty_label=_("Choose"),
        error_messages={"required": _("Choose a room.")},
    )
    place = forms.CharField(
        required=False,
        label=PLACE.label,
        help_text=PLACE.help,
        max_length=Instrument._meta.get_field("place").max_length,
    )

    def __init__(self, *args: Any, schools: Collection[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rooms = Room.objects.filter(school__in=schools).select_related("school").order_by("school__name", "name")
        set_queryset(self, "room", rooms)
        if len(schools) > 1:
            room: Any = self.fields["room"]
            room.label_from_instance = lambda one: f"{one.name}, {one.school.name}"
