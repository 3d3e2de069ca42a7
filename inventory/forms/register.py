"""The register's filters, and what is typed about one instrument."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import CharField, DateField
from django.utils.translation import gettext, gettext_lazy
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, PhotoField, set_choices
from inventory.catalog.load import catalog
from inventory.catalog.load.language import choice_word
from inventory.catalog.names import UnknownNameError, resolve_kind
from inventory.catalog.schema import Kind
from inventory.columns import BY_NAME, COLUMNS, Column
from inventory.models import READINESS_LABELS, VERDICT_LABELS, Acquired, Instrument, Level, Room, School, Whereabouts
from inventory.selectors.register import (
    AGED,
    NEVER,
    NUMBERED,
    READY,
    TAGGED,
    UNNUMBERED,
    UNTAGGED,
    Wanted,
    kinds_like,
    lost_kind,
)

USES = (("", _("All")), ("in_use", _("In use")), ("parts", _("Kept for parts")), ("retired", _("Retired")))
READINESS = (("", _("All")), (READY, _("May go out, with or without limits")), *READINESS_LABELS.items())
# By the code that the rule gives each reason (inventory/rules/readiness.py).
REASONS = (
    ("", _("Any reason")),
    ("not_inspected", _("Not inspected yet")),
    ("return_inspection", _("Back, not inspected yet")),
    (AGED, _("Inspection too old")),
    ("does_not_play", _("Does not play")),
    ("never_issue", _("Must be repaired first")),
    ("play_test", _("Failed its play test")),
    ("hygiene", _("To clean")),
    ("accessories", _("Something is missing")),
    ("reports", _("Problem reported")),
    ("on_bench", _("On the bench")),
    ("back_from_shop", _("Back from a shop, not played")),
    ("parts_horn", _("Kept for parts")),
    ("retired", _("Retired")),
    ("unknown_kind", _("Kind no longer known")),
)
TAGS = (("", _("All")), (TAGGED, _("Has a tag")), (UNTAGGED, _("Has no tag")))
SERIALS = (("", _("All")), (NUMBERED, _("Has a serial")), (UNNUMBERED, _("Has no serial")))
UNSEEN = (
    ("", _("All")),
    ("6", _("For 6 months")),
    ("12", _("For a year")),
    ("24", _("For two years")),
    (NEVER, _("Since it was registered")),
)
PLAIN = {"autocomplete": "off"}
CODE = PLAIN | {"autocapitalize": "characters", "spellcheck": "false"}
DATE = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
OPTION = "option-"  # before an option's code in the name of its field


def kind_choices() -> list[tuple[str, Any]]:
    """Every kind by name, for a filter."""
    kinds = sorted((kind.name, kind.code) for kind in catalog().kinds.values())
    return [("", _("All kinds")), *((code, name) for name, code in kinds)]


class RegisterFilterForm(forms.Form):
    """Unknown values count as not given, so that an old link still shows a list."""

    q = forms.CharField(
        required=False,
        label=_("Number, serial, maker, kind, room or place"),
        max_length=100,
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    kind = forms.ChoiceField(required=False, label=_("Kind"))
    school = forms.ModelChoiceField(
        label=_("School"), required=False, queryset=School.objects.none(), empty_label=_("All schools")
    )
    whereabouts = forms.ChoiceField(
        required=False, label=_("Where"), choices=[("", _("All we have")), *Whereabouts.choices]
    )
    verdict = forms.ChoiceField(required=False, label=_("Verdict"), choices=[("", _("All")), *VERDICT_LABELS.items()])
    readiness = forms.ChoiceField(required=False, label=_("May it go out?"), choices=READINESS)
    reason = forms.ChoiceField(required=False, label=_("Stays in because"), choices=REASONS)
    grade = forms.ChoiceField(required=False, label=_("With grade"))
    use = forms.ChoiceField(required=False, label=_("In use?"), choices=USES)
    tag = forms.ChoiceField(required=False, label=_("Tag"), choices=TAGS)
    serial = forms.ChoiceField(required=False, label=_("Serial"), choices=SERIALS)
    unseen = forms.ChoiceField(required=False, label=_("Not seen"), choices=UNSEEN)
    funding = forms.CharField(required=False, label=_("Paid from"), max_length=60, widget=forms.TextInput(attrs=PLAIN))

    def __init__(self, *args: Any, schools: list[School], grades: Sequence[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if grades:
            set_choices(self, "grade", [("", _("All")), *((grade, grade) for grade in grades)])
        else:
            del self.fields["grade"]
        choices = kind_choices()
        if lost := lost_kind(str(self.data.get("kind", ""))):
            choices = [*choices, (lost.code, lost.name)]  # the page of today's counts leads here
        set_choices(self, "kind", choices)
        if len(schools) < 2:
            del self.fields["school"]
        else:
            offered = [("", _("All schools")), *((str(school.pk), school.name) for school in schools)]
            self.fields["school"] = forms.ChoiceField(required=False, label=_("School"), choices=offered)
            self.order_fields(["q", "kind", "school"])

    @property
    def first(self) -> list[forms.BoundField]:
        """The filters always seen, three at most; where there is one school only, its place is another's."""
        third = "school" if "school" in self.fields else "whereabouts"
        return [self[name] for name in ("q", "kind", third)]

    @property
    def more(self) -> list[forms.BoundField]:
        shown = {field.name for field in self.first}
        return [field for field in self if field.name not in shown]

    def wanted(self) -> Wanted:
        self.is_valid()
        given = {name: value for name, value in self.cleaned_data.items() if value and name in self.fields}
        if "school" in given:
            given["school"] = int(given["school"])
        return Wanted(**given)


def kind_meant(data: Any) -> Kind | None:
    """The kind tapped, unless words typed after it mean another; None when they mean none or several."""
    tapped = catalog().kinds.get(str(data.get("kind", "")))
    typed = str(data.get("find", "")).strip()
    if not typed:
        return tapped
    like = kinds_like(typed)
    if tapped in like:
        return tapped
    try:
        return resolve_kind(catalog(), typed)
    except UnknownNameError:
        return like[0] if len(like) == 1 else None


# What an input needs besides its column's declaration.
WIDGETS: dict[str, forms.Widget] = {
    "asset_number": forms.TextInput(attrs=CODE),
    "serial": forms.TextInput(attrs=CODE),
    "second_number": forms.TextInput(attrs=CODE),
    "maker": forms.TextInput(attrs={"list": "makers"}),
    "acquired_by": forms.RadioSelect(),
    "notes": forms.Textarea(attrs={"rows": 3}),
}
SHOWN = tuple(column.name for column in COLUMNS if column.form in {"first", "more"} and column.name != "options")


def column_field(column: Column) -> forms.Field:
    """The form's field of a column, as the model has it; only the school must be given."""
    stored: Any = Instrument._meta.get_field(column.name)
    given: dict[str, Any] = {}
    for validator in stored.validators:
        if isinstance(validator, MinValueValidator):
            given["min_value"] = max(validator.limit_value, given.get("min_value", 0))
        elif isinstance(validator, MaxValueValidator):
            given["max_value"] = min(validator.limit_value, given.get("max_value", validator.limit_value))
    if isinstance(stored, DateField):
        given["widget"] = DATE
    elif isinstance(stored, CharField) and not stored.choices:
        given["widget"] = forms.TextInput(attrs=PLAIN)
    if column.name in WIDGETS:
        given["widget"] = WIDGETS[column.name]
    field: forms.Field = stored.formfield(
        label=gettext_lazy(column.label),
        help_text=gettext_lazy(column.help) if column.help else "",
        required=column.name == "school",
        **given,
    )
    return field


class InstrumentForm(forms.Form):
    """What is written about it. ``kind`` fixes which options are asked; ``schools`` are those to choose from."""

    new_room = forms.CharField(
        max_length=80,
        required=False,
        label=_("Or a new room"),
        help_text=_("A room, shelf or cabinet that is not in the list yet."),
        widget=forms.TextInput(attrs=PLAIN),
    )

    def __init__(
        self,
        *args: Any,
        schools: list[School],
        kind: Kind | None,
        instrument: Instrument | None = None,
        columns: Sequence[Column] = COLUMNS,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        shown = [column for column in columns if column.name in SHOWN or (column.form == "new" and instrument is None)]
        self.fields |= {column.name: column_field(column) for column in shown}
        self.kind, self.instrument = kind, instrument
        self.schools = schools
        self.only_school = schools[0] if len(schools) == 1 else None
        rooms = Room.objects.filter(school__in=schools).select_related("school").order_by("school__name", "name")
        field: Any = self.fields["room"]
        field.queryset, field.empty_label = rooms, _("No room")
        if self.only_school:
            del self.fields["school"]
        else:
            field.label_from_instance = lambda room: f"{room.name}, {room.school.name}"
            offered: Any = self.fields["school"]
            offered.queryset = School.objects.filter(pk__in=[school.pk for school in schools])
            offered.empty_label = _("Choose the school")
        for option in kind.options if kind else ():
            self.fields[f"{OPTION}{option.code}"] = forms.ChoiceField(
                choices=[(choice, choice_word(option.code, choice)) for choice in option.choices],
                label=option.name.capitalize(),
                initial=option.default,
                required=False,
            )

    @property
    def first(self) -> list[forms.BoundField]:
        return self.placed("first")

    @property
    def more(self) -> list[forms.BoundField]:
        return [self["new_room"], *self.placed("more")]

    def placed(self, place: str) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name in BY_NAME and BY_NAME[name].form == place]

    @property
    def options(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(OPTION)]

    @property
    def kept_options(self) -> str:
        """What is stored of a kind that the catalog has lost, and with it which choices there are; else ""."""
        row = self.instrument
        if row is None or row.kind_code in catalog().kinds:
            return ""
        return ", ".join(f"{code.replace('_', ' ')} {choice}" for code, choice in row.options.items())

    @property
    def has_option_errors(self) -> bool:
        return any(field.errors for field in self.options)

    @property
    def is_more_wanted(self) -> bool:
        """Something under "More" was refused or filled in: show it unfolded."""
        return any(field.errors or (self.is_bound and field.value() and field.name != "level") for field in self.more)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        data["school"] = self.only_school or data.get("school")
        room = data.get("room")
        if room and data["school"] and room.school_id != data["school"].pk:
            elsewhere = gettext("%(room)s is a room of %(its_school)s. Choose one of %(school)s.")
            names = {"room": room.name, "its_school": room.school.name, "school": data["school"].name}
            self.add_error("room", elsewhere % names)
        data["level"] = data.get("level") or Level.STUDENT
        data["acquired_by"] = data.get("acquired_by") or Acquired.UNKNOWN
        return data

    def columns(self) -> dict[str, Any]:
        """The values by the names of the instrument's columns."""
        return {name: value for name, value in self.cleaned_data.items() if not name.startswith(OPTION)} | {
            "options": {
                name.removeprefix(OPTION): value
                for name, value in self.cleaned_data.items()
                if name.startswith(OPTION) and value
            }
        }


class AddForm(InstrumentForm):
    """A new instrument with a photo. ``once`` is the posted form's key."""

    photo = PhotoField(required=False, label=_("Photo"))
    once = forms.CharField(max_length=40, required=False, initial=uuid.uuid4, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.files:  # shown again only where something was refused
            again = gettext("Take or choose it again: browsers do not keep a file after an error.")
            self.fields["photo"].help_text = again

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.kind is None:
            typed = str(self.data.get("find", "")).strip()[:60]
            unknown = gettext("“%(typed)s” is not a kind we know. Choose one.") % {"typed": typed}
            self.add_error(None, unknown if typed else gettext("Choose the kind first."))
        return data

    def columns(self) -> dict[str, Any]:
        return super().columns() | {"kind_code": self.kind.code if self.kind else ""}


class LockForm(forms.Form):
    combination = forms.CharField(
        max_length=40,
        required=False,
        label=_("Combination"),
        help_text=_(
            "Only people who lend see it, and only here: it is in no file and no log. Leave empty to remove it."
        ),
        widget=forms.TextInput(attrs=PLAIN | {"spellcheck": "false"}),
    )


class DonationForm(OnceForm):
    """Who gave it. No field for a value, on purpose: the donor states that, never the school."""

    donor_name = forms.CharField(max_length=120, label=_("Donor"), widget=forms.TextInput(attrs=PLAIN))
    donor_contact = forms.CharField(
        max_length=200, required=False, label=_("Contact"), widget=forms.TextInput(attrs=PLAIN)
    )
    received_on = forms.DateField(label=_("Received on"), widget=DATE)
    thanked_on = forms.DateField(required=False, label=_("Thanked on"), widget=DATE)
    tax_form_signed_on = forms.DateField(
        required=False,
        label=_("Tax form signed on"),
        help_text=_("The day the district signed the donor's form for a noncash gift, if it did."),
        widget=DATE,
    )
    history = forms.CharField(
        max_length=4000,
        required=False,
        label=_("History of the instrument"),
        widget=forms.Textarea(attrs={"rows": 4}),
    )

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        received = data.get("received_on")
        for name in ("thanked_on", "tax_form_signed_on"):
            if received and data.get(name) and data[name] < received:
                self.add_error(name, gettext("This is before it was received."))
        return data
