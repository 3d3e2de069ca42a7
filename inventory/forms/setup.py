"""The district, its schools and rooms, and the people."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import LONGEST_NAME, NEW_PASSWORD, OnceForm
from core.models import User
from core.passwords import LONGEST
from inventory.models import District, Role, School, Scope

PLAIN: dict[str, Any] = {"autocomplete": "off"}


class DistrictForm(forms.ModelForm):  # type: ignore[type-arg]  # generic for the type checker only
    second_step_roles = forms.MultipleChoiceField(
        required=False,
        choices=Role.choices,
        label=_("Second step at the log-in for"),
        help_text=_("These roles must add a passkey or an app with codes at their next page. All others may."),
        widget=forms.CheckboxSelectMultiple,
    )

    class Meta:
        model = District
        fields = (
            "name",
            "asset_prefix",
            "asset_digits",
            "next_asset_number",
            "return_words",
            "contact_phone",
            "keep_papers_years",
            "second_step_roles",
        )
        labels = {
            "name": _("District"),
            "asset_prefix": _("Numbers begin with"),
            "asset_digits": _("Digits"),
            "next_asset_number": _("Next number"),
            "return_words": _("How to return a found instrument"),
            "contact_phone": _("Phone for finders"),
            "keep_papers_years": _("Years to keep signed papers"),
        }
        help_texts = {
            "asset_prefix": _("Capital letters, digits and hyphens, such as CF-. May be empty."),
            "next_asset_number": _("It can skip ahead, never back: numbers are never reused."),
            "return_words": _("Shown to anyone who scans a tag. No names of people."),
            "keep_papers_years": _(
                "From the day the instrument is returned; your records policy says how long. After that they are "
                "deleted, and their hashes stay. Empty: none is deleted by age."
            ),
        }
        widgets = {"return_words": forms.Textarea(attrs={"rows": 3})}

    def clean_asset_prefix(self) -> str:
        return str(self.cleaned_data["asset_prefix"]).strip().upper()


class SchoolForm(OnceForm):
    """Name and how to reach it; the code only for a new school, since labels and scripts use it."""

    code = forms.CharField(
        label=_("Code"),
        max_length=8,
        help_text=_("Two to eight capital letters or digits. It cannot be changed later."),
        widget=forms.TextInput(attrs=PLAIN),
    )
    name = forms.CharField(label=_("Name"), max_length=120, widget=forms.TextInput(attrs=PLAIN))
    phone = forms.CharField(
        label=_("Phone"), max_length=40, required=False, widget=forms.TextInput(attrs=PLAIN | {"inputmode": "tel"})
    )
    email = forms.EmailField(max_length=254, required=False, label=_("E-mail"), widget=forms.EmailInput(attrs=PLAIN))
    address = forms.CharField(
        label=_("Address"), max_length=300, required=False,
        help_text=_("Printed on packing slips, for what a shop sends back."),
        widget=forms.Textarea(attrs=PLAIN | {"rows": 3}),
    )  # fmt: skip

    def __init__(self, *args: Any, school: School | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if school is not None:
            del self.fields["code"], self.fields["nonce"]
            self.initial = {name: getattr(school, name) for name in ("name", "phone", "email", "address")}


class RoomForm(OnceForm):
    room = forms.CharField(
        max_length=80,
        label=_("Room, shelf or cabinet"),
        widget=forms.TextInput(attrs=PLAIN),
        error_messages={"required": _("Enter a name for the room.")},
    )


class NameForm(forms.Form):
    name = forms.CharField(label=_("Name"), max_length=120, widget=forms.TextInput(attrs=PLAIN))
    email = forms.EmailField(required=False, label=_("Email"))

    def __init__(self, *args: Any, person: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial = {"name": person.name, "email": person.email}


class RoleForm(forms.Form):
    role = forms.ChoiceField(label=_("Role"), choices=Role.choices)
    school = forms.ModelChoiceField(
        queryset=School.objects.all(),
        required=False,
        empty_label=_("The whole district"),
        label=_("Where"),
        help_text=_(
            "A director needs a school; an administrator always has the whole district. Others may have either."
        ),
    )

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("role") == Role.DIRECTOR and not data.get("school") and "school" not in self.errors:
            self.add_error("school", gettext("A director needs a school. Choose one."))
        if data.get("role") == Role.ADMINISTRATOR and data.get("school"):
            self.add_error("school", gettext("An administrator has the whole district. Choose no school."))
        return data


class GiveRoleForm(OnceForm, RoleForm):
    """A further role."""


class PersonForm(OnceForm, RoleForm):
    """A new person with a first role."""

    field_order = ("name", "username", "email", "password")

    name = forms.CharField(label=_("Name"), max_length=120, widget=forms.TextInput(attrs=PLAIN))
    username = forms.CharField(
        max_length=LONGEST_NAME,
        label=_("User name"),
        widget=forms.TextInput(attrs=PLAIN | {"autocapitalize": "none", "spellcheck": "false"}),
    )
    email = forms.EmailField(required=False, label=_("Email"))
    password = forms.CharField(
        max_length=LONGEST,
        required=False,
        label=_("First password"),
        help_text=_(
            "At least 12 characters, for the first log-in: then they choose their own. Empty: make a link on the next "
            "page instead."
        ),
        widget=NEW_PASSWORD,
    )

    def person(self) -> dict[str, Any]:
        """What the service takes."""
        data = dict(self.cleaned_data)
        return {"first_role": {"role": data.pop("role"), "school": data.pop("school")}, **data}


class PasswordForm(forms.Form):
    password = forms.CharField(
        max_length=LONGEST,
        label=_("First password"),
        help_text=_(
            "At least 12 characters. At the next log-in they choose their own. They are logged out everywhere."
        ),
        widget=NEW_PASSWORD,
    )


class IntegrationForm(forms.Form):
    """A token for another program."""

    name = forms.CharField(
        max_length=80,
        label=_("Which program"),
        help_text=_("Such as: the business office's asset list."),
        widget=forms.TextInput(attrs=PLAIN),
    )
    school = forms.ModelChoiceField(
        School.objects.all(), required=False, label=_("School"), empty_label=_("The whole district")
    )
    scopes = forms.MultipleChoiceField(
        label=_("It may read"),
        choices=Scope.choices,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Choose what it may read.")},
    )
    expires_on = forms.DateField(label=_("Until"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
