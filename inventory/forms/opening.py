"""The first page of a new installation: district, first school, administrator, and figures that every district sets."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import LONGEST_NAME, NEW_PASSWORD
from core.models import User
from core.passwords import LONGEST
from inventory.catalog.figures import BENCH_RATE, SCHOOL_YEAR_ENDS, TIME_ZONE
from inventory.forms.figures import check_typed, field_for
from inventory.forms.setup import PLAIN
from inventory.models import District, School
from inventory.selectors.figures import rules
from inventory.services.opening import Opening

MOST_ROOMS = 60
ROOM_LETTERS = 80
FIGURES = (TIME_ZONE, BENCH_RATE, SCHOOL_YEAR_ENDS)
NUMBERING = ("asset_prefix", "asset_digits", "next_asset_number")


class OpeningForm(forms.Form):
    district = forms.CharField(max_length=120, label=_("District"), widget=forms.TextInput(attrs=PLAIN))
    school = forms.CharField(max_length=120, label=_("First school"), widget=forms.TextInput(attrs=PLAIN))
    code = forms.CharField(
        max_length=8,
        required=False,
        label=_("Its code"),
        help_text=_("Two to eight capital letters or digits, on lists and labels. Empty: made from the name."),
        widget=forms.TextInput(attrs=PLAIN | {"autocapitalize": "characters"}),
    )
    rooms = forms.CharField(
        max_length=4000,
        label=_("Its rooms, shelves and cabinets"),
        help_text=_("Where instruments are kept, one on each line. More can be added later."),
        widget=forms.Textarea(attrs=PLAIN | {"rows": 3}),
    )
    name = forms.CharField(max_length=120, label=_("Your name"), widget=forms.TextInput(attrs={"autocomplete": "name"}))
    username = forms.CharField(
        max_length=LONGEST_NAME,
        label=_("User name"),
        help_text=_("You log in with it."),
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
    )
    password = forms.CharField(
        max_length=LONGEST,
        strip=False,
        label=_("Password"),
        help_text=_("At least 12 characters."),
        widget=NEW_PASSWORD,
    )
    again = forms.CharField(max_length=LONGEST, strip=False, label=_("Password again"), widget=NEW_PASSWORD)
    is_director = forms.BooleanField(
        required=False, initial=True, label=_("I also direct the band at this school, and lend its instruments")
    )

    sections = (
        (_("District and school"), ("district", "school", "code", "rooms")),
        (_("You, the administrator"), ("name", "username", "password", "again", "is_director")),
        (_("What differs from district to district"), FIGURES),
    )

    def __init__(self, *args: Any, district: District | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = rules()
        for key in FIGURES:
            self.fields[key] = field_for(known[key], known[key].default)
        labels = {"asset_prefix": _("Numbers begin with"), "asset_digits": _("Digits"), "next_asset_number": _("First")}
        helps = {"asset_prefix": _("Capital letters, digits and hyphens, such as CF-. May be empty.")}
        for name in NUMBERING:
            column: Any = District._meta.get_field(name)
            field: forms.Field = column.formfield(label=labels[name], help_text=helps.get(name, ""))
            if name != "asset_prefix":  # that one is put in capitals first
                field.validators = list(column.validators)
            field.initial = getattr(district, name, column.get_default())
            self.fields[name] = field
        if district is not None:
            self.fields["district"].initial = district.name

    @property
    def parts(self) -> list[tuple[Any, list[forms.BoundField]]]:
        """The headings of the page, each with its fields."""
        return [(title, [self[name] for name in names]) for title, names in self.sections]

    @property
    def numbering(self) -> list[forms.BoundField]:
        return [self[name] for name in NUMBERING]

    @property
    def has_wrong_numbering(self) -> bool:
        return any(name in self.errors for name in NUMBERING)

    def clean_asset_prefix(self) -> str:
        prefix = str(self.cleaned_data["asset_prefix"]).strip().upper()
        District._meta.get_field("asset_prefix").run_validators(prefix)
        return prefix

    def clean_code(self) -> str:
        code = str(self.cleaned_data["code"]).strip().upper()
        if code:
            School._meta.get_field("code").run_validators(code)
            if School.objects.filter(code=code).exists():
                raise ValidationError(gettext("A school already has the code %(code)s.") % {"code": code})
        return code

    def clean_rooms(self) -> list[str]:
        rooms = [words for line in self.cleaned_data["rooms"].splitlines() if (words := " ".join(line.split()))]
        if any(len(room) > ROOM_LETTERS for room in rooms):
            raise ValidationError(gettext("A room's name has at most %(most)d letters.") % {"most": ROOM_LETTERS})
        if len(rooms) > MOST_ROOMS:
            raise ValidationError(gettext("Begin with at most %(most)d rooms.") % {"most": MOST_ROOMS})
        return rooms

    def clean_username(self) -> str:
        username = str(self.cleaned_data["username"])
        if User.objects.filter(username__iexact=username).exists():
            raise ValidationError(gettext("The user name %(name)s is taken.") % {"name": username})
        return username

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        for key in FIGURES:
            if key in data:
                try:
                    check_typed(rules()[key], data[key])
                except ValidationError as error:
                    self.add_error(key, error)
        if "password" in data and "again" in data and data["password"] != data["again"]:
            self.add_error("again", gettext("The passwords do not match."))
        elif "password" in data:
            try:
                validate_password(data["password"], User(username=data.get("username", ""), name=data.get("name", "")))
            except ValidationError as error:
                self.add_error("password", error)
        return data

    def opening(self) -> Opening:
        """What the service takes."""
        data = self.cleaned_data
        return Opening(
            district={"name": data["district"], **{name: data[name] for name in NUMBERING}},
            school={"name": data["school"], "code": data["code"]},
            rooms=data["rooms"],
            person={name: data[name] for name in ("name", "username", "password")},
            is_director=data["is_director"],
            figures={key: data[key] for key in FIGURES},
        )
