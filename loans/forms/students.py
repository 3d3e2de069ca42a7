"""Students, and the terms that families sign."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices, set_queryset
from inventory.catalog.load import catalog
from inventory.models import School
from inventory.rules.playing import LEVEL_NAMES
from loans.models import AgreementTerms, Student

LEVELS = tuple((code, _(name)) for code, name in LEVEL_NAMES.items())


class StudentForm(OnceForm):
    """The least that a loan needs. ``schools`` are the choices; with one, the field is left out."""

    school = forms.ModelChoiceField(queryset=School.objects.none())
    name = forms.CharField(
        max_length=120, label=_("Student's name"), widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    grade = forms.CharField(max_length=10, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    level = forms.ChoiceField(choices=LEVELS, label=_("Plays at"), initial="first_year")
    wants_kind = forms.ChoiceField(
        required=False,
        label=_("Waiting for"),
        help_text=_("While the student has no instrument, the bench puts instruments of this kind first."),
    )
    guardian_name = forms.CharField(
        max_length=120,
        required=False,
        label=_("Guardian's name"),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    guardian_contact = forms.CharField(
        max_length=200,
        required=False,
        label=_("Guardian's phone or email"),
        help_text=_("Shown only to the school's directors."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, schools: Any, student: Student | None = None, **kwargs: Any) -> None:
        if student is not None:
            kwargs["initial"] = {
                name: getattr(student, name)
                for name in ("name", "grade", "level", "wants_kind", "guardian_name", "guardian_contact")
            }
        super().__init__(*args, **kwargs)
        kinds = sorted((kind.name, code) for code, kind in catalog().kinds.items())
        set_choices(self, "wants_kind", [("", gettext("Nothing")), *((code, name) for name, code in kinds)])
        choices = list(schools)
        if student is not None or len(choices) == 1:
            del self.fields["school"]
            self.only_school = student.school if student is not None else choices[0]
        else:
            self.only_school = None
            set_queryset(self, "school", schools)

    @property
    def facts(self) -> dict[str, Any]:
        """Return the student's fields for the services."""
        return {name: value for name, value in self.cleaned_data.items() if name not in {"school", "nonce"}}

    def chosen_school(self) -> School:
        school: School = self.only_school or self.cleaned_data["school"]
        return school


class StudentLeftForm(forms.Form):
    left_on = forms.DateField(label=_("Left on"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))


class EraseForm(forms.Form):
    """What to erase with a student.

    ``seen`` are the nicknames whose matches were on the page, so that nobody erases words they have not looked at.
    """

    nicknames = forms.CharField(
        required=False,
        max_length=200,
        label=_("Also called"),
        help_text=_("Nicknames, separated by commas. You will see where they appear before anything is erased."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    seen = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)
    papers_too = forms.BooleanField(
        required=False, label=_("Delete the signed papers now, before their retention period ends")
    )

    def __init__(self, *args: Any, has_papers_to_keep: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not has_papers_to_keep:
            del self.fields["papers_too"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if split_names(data.get("nicknames", "")) != split_names(data.get("seen", "")):
            self.add_error("nicknames", gettext("See above where these appear, then erase."))
        return data

    def nickname_list(self) -> list[str]:
        """Return what was typed, whether the form is valid or not."""
        return split_names(str(self["nicknames"].value() or "")[:200])


def split_names(text: str) -> list[str]:
    return [name for name in map(str.strip, text.split(",")) if name]


class TermsForm(OnceForm):
    """``seen`` is the version that was on the page: the service overwrites no terms that nobody has read."""

    text = forms.CharField(
        max_length=20_000,
        label=_("Terms"),
        help_text=_(
            "A blank line starts a new paragraph. Saving makes a new version; papers already signed keep theirs."
        ),
        widget=forms.Textarea(attrs={"rows": 22}),
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, newest: AgreementTerms, **kwargs: Any) -> None:
        kwargs["initial"] = {"text": newest.text, "seen": newest.version}
        super().__init__(*args, **kwargs)
