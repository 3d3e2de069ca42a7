"""The district, its schools and rooms, and the people."""

from __future__ import annotations

from typing import Any

from django import forms

from core.models import User
from inventory.models import District, Role, School

PLAIN: dict[str, Any] = {"autocomplete": "off"}
NEW_PASSWORD = forms.PasswordInput(attrs={"autocomplete": "new-password"})


class DistrictForm(forms.ModelForm):  # type: ignore[type-arg]  # generic for the type checker only
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
        )
        labels = {
            "name": "District",
            "asset_prefix": "Numbers begin with",
            "asset_digits": "Digits",
            "next_asset_number": "Next number",
            "return_words": "How to bring a found instrument back",
            "contact_phone": "Phone for finders",
            "keep_papers_years": "Years to keep signed papers",
        }
        help_texts = {
            "asset_prefix": "Capitals, digits and hyphens, such as CF-. May be empty.",
            "next_asset_number": "It can jump ahead, never back: a number once given is never used again.",
            "return_words": "Shown to whoever scans a tag. No names of people.",
            "keep_papers_years": "From the day the instrument comes back; your records policy says how long. "
            "After that they are deleted, and their hashes stay. Empty: none is deleted by age.",
        }
        widgets = {"return_words": forms.Textarea(attrs={"rows": 3})}

    def clean_asset_prefix(self) -> str:
        return str(self.cleaned_data["asset_prefix"]).strip().upper()


class SchoolForm(forms.Form):
    """Name and phone; the code only for a new one, since it is printed and scripted."""

    code = forms.CharField(
        max_length=8, help_text="Two to eight capitals or digits, for good.", widget=forms.TextInput(attrs=PLAIN)
    )
    name = forms.CharField(max_length=120, widget=forms.TextInput(attrs=PLAIN))
    phone = forms.CharField(max_length=40, required=False, widget=forms.TextInput(attrs=PLAIN | {"inputmode": "tel"}))

    def __init__(self, *args: Any, school: School | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if school is not None:
            del self.fields["code"]
            self.initial = {"name": school.name, "phone": school.phone}


class RoomForm(forms.Form):
    room = forms.CharField(
        max_length=80,
        label="Room, shelf or cabinet",
        widget=forms.TextInput(attrs=PLAIN),
        error_messages={"required": "Name the room."},
    )


class PersonForm(forms.Form):
    """Somebody new; the first role may be given in the same act."""

    name = forms.CharField(max_length=120, widget=forms.TextInput(attrs=PLAIN))
    username = forms.CharField(
        max_length=80,
        label="Logs in as",
        widget=forms.TextInput(attrs=PLAIN | {"autocapitalize": "none", "spellcheck": "false"}),
    )
    email = forms.EmailField(required=False, label="Mail")
    password = forms.CharField(
        max_length=200,
        required=False,
        label="First password",
        help_text="At least 12 characters. Without one nobody can log in under the name yet.",
        widget=NEW_PASSWORD,
    )


class NameForm(forms.Form):
    name = forms.CharField(max_length=120, widget=forms.TextInput(attrs=PLAIN))
    email = forms.EmailField(required=False, label="Mail")

    def __init__(self, *args: Any, person: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial = {"name": person.name, "email": person.email}


class RoleForm(forms.Form):
    role = forms.ChoiceField(choices=Role.choices)
    school = forms.ModelChoiceField(
        queryset=School.objects.all(),
        required=False,
        empty_label="The whole district",
        label="Where",
        help_text="A director directs at a school, an administrator sets up the whole district; the others as it is.",
    )

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("role") == Role.DIRECTOR and not data.get("school") and "school" not in self.errors:
            self.add_error("school", "A director directs at a school; choose which.")
        if data.get("role") == Role.ADMINISTRATOR and data.get("school"):
            self.add_error("school", "An administrator sets up the whole district; choose no school.")
        return data


class PasswordForm(forms.Form):
    password = forms.CharField(
        max_length=200,
        label="New password",
        help_text="At least 12 characters. Who is logged in under the old one is logged out.",
        widget=NEW_PASSWORD,
    )
