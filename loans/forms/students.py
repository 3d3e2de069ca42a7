"""Students and the terms that families sign."""

from __future__ import annotations

from typing import Any

from django import forms

from core.forms import OnceForm, set_choices, set_queryset
from inventory.catalog.load import catalog
from inventory.models import School
from inventory.rules.playing import LEVEL_NAMES
from loans.models import AgreementTerms, Student

LEVELS = tuple(LEVEL_NAMES.items())


class StudentForm(OnceForm):
    """The least that a loan needs. ``schools`` are those to choose from; with one, nobody is asked."""

    school = forms.ModelChoiceField(queryset=School.objects.none())
    name = forms.CharField(
        max_length=120, label="Student's name", widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    grade = forms.CharField(max_length=10, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    level = forms.ChoiceField(choices=LEVELS, label="Plays at", initial="first_year")
    wants_kind = forms.ChoiceField(
        required=False,
        label="Waits for",
        help_text="While the student has no instrument, the bench puts horns of this kind first.",
    )
    guardian_name = forms.CharField(
        max_length=120, required=False, label="Guardian's name", widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    guardian_contact = forms.CharField(
        max_length=200,
        required=False,
        label="Guardian's phone or mail",
        help_text="Shown to the school's directors only.",
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
        set_choices(self, "wants_kind", [("", "Nothing"), *((code, name) for name, code in kinds)])
        choices = list(schools)
        if student is not None or len(choices) == 1:
            del self.fields["school"]
            self.only_school = student.school if student is not None else choices[0]
        else:
            self.only_school = None
            set_queryset(self, "school", schools)

    @property
    def facts(self) -> dict[str, Any]:
        """What the services take of the student."""
        return {name: value for name, value in self.cleaned_data.items() if name not in {"school", "nonce"}}

    def chosen_school(self) -> School:
        school: School = self.only_school or self.cleaned_data["school"]
        return school


class StudentLeftForm(forms.Form):
    left_on = forms.DateField(label="Left on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))


class EraseForm(forms.Form):
    """What goes with a student. ``places`` are texts where a single word may be the name: ticked to begin with.

    ``seen`` are the nicknames whose places were on the page, so that nobody erases words they have not looked at.
    """

    nicknames = forms.CharField(
        required=False,
        max_length=200,
        label="Also called",
        help_text="Nicknames, with commas between. Where they stand is shown before anything is erased.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    seen = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)
    papers_too = forms.BooleanField(required=False, label="Delete the signed papers now, before their time is over")

    def __init__(self, *args: Any, has_papers_to_keep: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not has_papers_to_keep:
            del self.fields["papers_too"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if split_names(data.get("nicknames", "")) != split_names(data.get("seen", "")):
            self.add_error("nicknames", "Look above where these stand, then erase.")
        return data

    def nickname_list(self) -> list[str]:
        """What was typed, whether the form is good or not."""
        return split_names(str(self["nicknames"].value() or "")[:200])


def split_names(text: str) -> list[str]:
    return [name for name in map(str.strip, text.split(",")) if name]


class TermsForm(forms.Form):
    """``seen`` is the version that was on the page, so that nobody writes over words they have not read."""

    text = forms.CharField(
        max_length=20_000,
        label="Terms",
        help_text="A blank line begins a new paragraph. Saving makes a new version; papers signed before keep theirs.",
        widget=forms.Textarea(attrs={"rows": 22}),
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, newest: AgreementTerms, **kwargs: Any) -> None:
        kwargs["initial"] = {"text": newest.text, "seen": newest.version}
        super().__init__(*args, **kwargs)
        self.newest = newest

    def clean_seen(self) -> int:
        seen: int = self.cleaned_data["seen"]
        if seen != self.newest.version:
            raise forms.ValidationError("Somebody else has saved new terms meanwhile.")
        return seen
