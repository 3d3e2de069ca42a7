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
from loans.models import AgreementTerms, Guardian, Student
from loans.services import NewGuardian
from loans.services.students import guardian_given

MOST_LINES = 3  # of an address: with the name above them, as much as always shows in the window of an envelope
LEVELS = tuple((code, _(name)) for code, name in LEVEL_NAMES.items())


OFF = {"autocomplete": "off"}
COLUMNS = ("name", "grade", "level", "wants_kind", "who", "number", "is_private")
OF_GUARDIANS = ("name", "phone", "email", "language", "address", "contact")
# Whom the form asks for; more may have been imported.
PLACES: dict[int, tuple[Any, ...]] = {
    1: (
        _("Guardian's name"),
        _("Guardian's phone"),
        _("Guardian's email"),
        _("Letters and agreements in"),
        _("Guardian's mailing address"),
        _("Guardian's other contact"),
    ),
    2: (
        _("Second guardian's name"),
        _("Second guardian's phone"),
        _("Second guardian's email"),
        _("Letters to the second guardian in"),
        _("Second guardian's mailing address"),
        _("Second guardian's other contact"),
    ),
}
FOLDED = {
    "number",
    "sort_name",
    "who",
    "is_private",
    "guardian1_address",
    *(f"guardian2_{name}" for name in OF_GUARDIANS),
}
ORDER = ("nonce", "school", "name", "grade", "level", "wants_kind", *(f"guardian1_{name}" for name in OF_GUARDIANS))


def check_lines(address: str) -> None:
    if len([line for line in address.splitlines() if line.strip()]) > MOST_LINES:
        raise forms.ValidationError(gettext("At most %(most)d lines.") % {"most": MOST_LINES})


def guardian_fields(place: int) -> dict[str, forms.Field]:
    """Return the fields of one guardian by their names in the form."""
    name, phone, email, language, address, contact = PLACES[place]
    tel, mail = forms.TextInput(attrs=OFF | {"type": "tel"}), forms.EmailInput(attrs=OFF)
    typed: dict[str, Any] = {"required": False, "widget": forms.TextInput(attrs=OFF)}
    fields: tuple[forms.Field, ...] = (
        forms.CharField(max_length=120, label=name, **typed),
        forms.CharField(max_length=40, required=False, label=phone, widget=tel),
        forms.EmailField(required=False, label=email, widget=mail),
        forms.ChoiceField(required=False, label=language, choices=Guardian.Language.choices),
        forms.CharField(
            max_length=200,
            required=False,
            label=address,
            widget=forms.Textarea(attrs=OFF | {"rows": MOST_LINES}),
            validators=[check_lines],
        ),
        forms.CharField(max_length=200, label=contact, **typed),
    )
    return {f"guardian{place}_{key}": field for key, field in zip(OF_GUARDIANS, fields, strict=True)}


class StudentForm(OnceForm):
    """The least that a loan needs. ``schools`` are the choices; with one, the field is left out."""

    school = forms.ModelChoiceField(label=_("School"), queryset=School.objects.none())
    name = forms.CharField(max_length=120, label=_("Student's name"), widget=forms.TextInput(attrs=OFF))
    grade = forms.CharField(label=_("Grade"), max_length=10, widget=forms.TextInput(attrs=OFF))
    level = forms.ChoiceField(choices=LEVELS, label=_("Plays at"), initial="first_year")
    wants_kind = forms.ChoiceField(
        required=False,
        label=_("Waiting for"),
        help_text=_("While the student has no instrument, the bench puts instruments of this kind first."),
    )
    number = forms.CharField(
        max_length=40,
        required=False,
        label=_("Student number"),
        help_text=_("As on the student card."),
        widget=forms.TextInput(attrs=OFF),
    )
    sort_name = forms.CharField(
        max_length=122,
        required=False,
        label=_("Name in lists"),
        help_text=_("Family name first: Rivera, Ana. If empty, the last word of the name counts as the family name."),
        widget=forms.TextInput(attrs=OFF),
    )
    who = forms.ChoiceField(
        required=False,
        choices=Student.Who.choices,
        label=_("Who borrows"),
        help_text=_("Staff and groups need no grade and no guardian."),
    )
    is_private = forms.BooleanField(required=False, label=_("The family opted out of directory information"))

    def __init__(self, *args: Any, schools: Any, student: Student | None = None, **kwargs: Any) -> None:
        self.guardians = list(student.guardians.all()) if student is not None else []
        if student is not None:
            kwargs["initial"] = {name: getattr(student, name) for name in COLUMNS} | self._known_guardians()
            if student.sort_name != student.usual_sort_name:
                kwargs["initial"]["sort_name"] = student.sort_name
        super().__init__(*args, **kwargs)
        for place in PLACES:
            self.fields |= guardian_fields(place)
            if not (place <= len(self.guardians) and self.guardians[place - 1].contact):
                del self.fields[f"guardian{place}_contact"]
        self.fields["guardian1_phone"].help_text = _("Shown only to the school's directors.")
        self.fields["guardian1_address"].help_text = _(
            "For letters in a window envelope. If empty, letters go home with the student."
        )
        self.order_fields(ORDER)
        kinds = sorted((kind.name, code) for code, kind in catalog().kinds.items())
        set_choices(self, "wants_kind", [("", gettext("Nothing")), *((code, name) for name, code in kinds)])
        self.fields["grade"].required = (self["who"].value() or Student.Who.STUDENT) == Student.Who.STUDENT
        choices = list(schools)
        if student is not None or len(choices) == 1:
            del self.fields["school"]
            self.only_school = student.school if student is not None else choices[0]
        else:
            self.only_school = None
            set_queryset(self, "school", schools)

    def _known_guardians(self) -> dict[str, str]:
        return {
            f"guardian{place}_{name}": getattr(row, name)
            for place, row in zip(PLACES, self.guardians, strict=False)
            for name in OF_GUARDIANS
        }

    def clean_who(self) -> str:
        return self.cleaned_data["who"] or Student.Who.STUDENT

    @property
    def seen(self) -> list[forms.BoundField]:
        """Return the fields that every student needs."""
        return [field for field in self if field.name not in FOLDED]

    @property
    def folded(self) -> list[forms.BoundField]:
        return [field for field in self if field.name in FOLDED]

    @property
    def facts(self) -> dict[str, Any]:
        """Return the student's fields for the services."""
        data = self.cleaned_data
        facts = {name: data[name] for name in COLUMNS}
        if data["sort_name"] or "sort_name" in self.changed_data:
            facts["sort_name"] = data["sort_name"]
        return facts | {"guardians": self._guardians() if data["who"] == Student.Who.STUDENT else []}

    def _guardians(self) -> list[NewGuardian]:
        """Those of the form, then those that it does not show."""
        known = [guardian_given(row) for row in self.guardians]
        typed = []
        for place in PLACES:
            fields = {name: self.cleaned_data.get(f"guardian{place}_{name}") or "" for name in OF_GUARDIANS}
            fields["language"] = fields["language"] or Guardian.Language.ENGLISH
            sourced_id = known[place - 1].sourced_id if place <= len(known) else ""
            typed.append(NewGuardian(**fields, sourced_id=sourced_id))
        return [*typed, *known[len(PLACES) :]]

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
