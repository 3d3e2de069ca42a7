"""Counting: what is counted, what is scanned, how differences are settled, and who signs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, OneSentence, set_choices
from core.models import User
from inventory.models import REASON_LABELS, Room, School
from inventory.rules.counting import Outcome, Reason
from inventory.selectors.counts import Difference
from inventory.services.counts import LONGEST_NOTE, Settled


class OpenCountForm(OnceForm):
    """Which schools, or which rooms of the only one, and whether whoever counts sees what is expected."""

    schools = forms.MultipleChoiceField(
        label=_("Schools"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Choose at least one school.")},
    )
    rooms = forms.MultipleChoiceField(
        label=_("Only these rooms"),
        required=False,
        help_text=_(
            "Choose none to count the whole school. Only a count of the whole school sets when the next is due."
        ),
        widget=forms.CheckboxSelectMultiple,
    )
    is_blind = forms.BooleanField(
        label=_("Blind count"),
        required=False,
        help_text=_("The people counting do not see what is expected until counting has ended."),
    )

    def __init__(self, *args: Any, schools: Sequence[School], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = {str(school.pk): school for school in schools}
        self.known_rooms: dict[str, Room] = {}
        if len(schools) == 1:
            del self.fields["schools"]
            self.known_rooms = {str(room.pk): room for room in Room.objects.filter(school=schools[0])}
        else:
            set_choices(self, "schools", [(key, school.name) for key, school in self.known.items()])
        if self.known_rooms:
            set_choices(self, "rooms", [(key, room.name) for key, room in self.known_rooms.items()])
        else:
            del self.fields["rooms"]

    def chosen_schools(self) -> list[School]:
        keys = self.cleaned_data.get("schools") or list(self.known)
        return [self.known[key] for key in keys]

    def chosen_rooms(self) -> list[Room]:
        return [self.known_rooms[key] for key in self.cleaned_data.get("rooms", ())]


class SightingForm(OneSentence, forms.Form):
    """The room somebody is in, and one box for scan after scan."""

    room = forms.ChoiceField(label=_("Room you are in"), required=False)
    text = forms.CharField(
        label=_("Tag, bar code or number"),
        max_length=300,
        error_messages={"required": _("Scan a label or type a number.")},
        widget=forms.TextInput(
            attrs={
                "autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false", "enterkeyhint": "go",
                "autofocus": True,
            }
        ),
    )  # fmt: skip
    scanned = forms.CharField(required=False, max_length=1, widget=forms.HiddenInput)

    def __init__(self, *args: Any, rooms: Sequence[Room], is_whole: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = {str(room.pk): room for room in rooms}
        choices = [(key, room.name) for key, room in self.known.items()]
        field: Any = self.fields["room"]
        field.choices = [("", gettext("No room chosen")), *choices] if is_whole or not choices else choices
        if not rooms:
            del self.fields["room"]

    def chosen_room(self) -> Room | None:
        return self.known.get(self.cleaned_data.get("room", ""))


class SettleForm(OnceForm):
    """A reason for each difference, and the password of the second person. ``all-…``: for those without one."""

    second = forms.ChoiceField(
        label=_("Second signature"),
        help_text=_("Somebody else who counts here. They read the list, then type their own password."),
    )
    password = forms.CharField(
        label=_("Password of the second person"), widget=forms.PasswordInput(attrs={"autocomplete": "off"})
    )

    def __init__(self, *args: Any, differences: Sequence[Difference], seconds: Sequence[User], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.differences = {one.key: one for one in differences}
        self.people = {str(user.pk): user for user in seconds}
        second: Any = self.fields["second"]
        second.choices = [("", gettext("Choose")), *((key, user.name) for key, user in self.people.items())]
        groups: dict[Outcome, Difference] = {}
        for key, one in self.differences.items():
            groups.setdefault(one.outcome, one)
            number = {"number": one.number}
            field = self.fields[f"reason-{key}"] = self.reason_field(one.reasons)
            field.label = gettext("What to do with %(number)s") % number
            self.fields[f"note-{key}"] = forms.CharField(
                label=gettext("Note on %(number)s") % number,
                required=False,
                max_length=LONGEST_NOTE,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )
        for outcome, one in groups.items():
            field = self.fields[f"all-{outcome}"] = self.reason_field(one.reasons)
            field.label = _("All without a reason of their own")

    def reason_field(self, reasons: Sequence[Reason]) -> forms.ChoiceField:
        choices = [("", gettext("Choose")), *((str(one), REASON_LABELS[one]) for one in reasons)]
        return forms.ChoiceField(required=False, choices=choices)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        for key, one in self.differences.items():
            chosen = data.get(f"reason-{key}") or data.get(f"all-{one.outcome}", "")
            if chosen not in one.reasons and f"reason-{key}" not in self.errors:
                self.add_error(f"reason-{key}", gettext("Choose what to do."))
        return data

    def settled(self) -> Mapping[str, Settled]:
        data = self.cleaned_data
        return {
            key: Settled(Reason(data[f"reason-{key}"] or data[f"all-{one.outcome}"]), data[f"note-{key}"])
            for key, one in self.differences.items()
        }

    def chosen_second(self) -> User:
        return self.people[self.cleaned_data["second"]]

    def own_fields(self) -> list[forms.BoundField]:
        """Who signs: shown below the differences."""
        return [self["second"], self["password"]]
