"""Sending a roster, choosing its courses, and saying who is who."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import set_queryset
from inventory.models import School
from loans.rules.roster import FIELD_WORDS, Twin

COLUMN = "column-"
TWIN = "twin-"
SAME, OTHER = "same", "other"


class SendRosterForm(forms.Form):
    file = forms.FileField(
        label=_("Roster or list"),
        help_text=_("A OneRoster zip file (1.1 or 1.2) from the district's office, or your own .xlsx or .csv list."),
        widget=forms.FileInput(attrs={"accept": ".zip,.csv,.xlsx,.txt,.tsv,text/csv,application/zip"}),
        error_messages={
            "required": _("Choose the file."),
            "missing": _("Choose the file."),
            "empty": _("The file is empty."),
            "invalid": _("The file did not arrive. Choose it again."),
        },
    )
    school = forms.ModelChoiceField(
        label=_("School"),
        queryset=School.objects.none(),
        empty_label=None,
        error_messages={
            "invalid_choice": _("You may not import for this school."),
            "required": _("Choose the school."),
        },
    )

    def __init__(self, *args: Any, schools: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.only_school = schools[0] if len(schools) == 1 else None
        if self.only_school:
            del self.fields["school"]
        else:
            set_queryset(self, "school", schools)

    def chosen_school(self) -> School:
        school: School = self.only_school or self.cleaned_data["school"]
        return school


class CoursesForm(forms.Form):
    """``choices`` are (sourcedId, words)."""

    courses = forms.MultipleChoiceField(
        label=_("Courses"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": _("Choose at least one course."),
            "invalid_choice": _("This course is no longer in the roster. Choose again."),
        },
    )

    def __init__(self, *args: Any, choices: Sequence[tuple[str, str]], taken: Sequence[str], **kwargs: Any) -> None:
        kwargs["initial"] = {"courses": list(taken)}
        super().__init__(*args, **kwargs)
        field = self.fields["courses"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101  # declared above
        field.choices = list(choices)


class ListColumnsForm(forms.Form):
    """One choice for each column of a list."""

    def __init__(self, *args: Any, header: Sequence[str], guessed: Mapping[int, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", _("Leave it out")), *((field, gettext(words)) for field, words in FIELD_WORDS.items())]
        for index, heading in enumerate(header):
            self.fields[f"{COLUMN}{index}"] = forms.ChoiceField(
                choices=choices,
                required=False,
                label=heading or gettext("Column %(number)d, without a heading") % {"number": index + 1},
                initial=guessed.get(index, ""),
            )

    def chosen(self) -> dict[int, str]:
        return {int(name.removeprefix(COLUMN)): value for name, value in self.cleaned_data.items() if value}

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        chosen = [value for value in data.values() if value]
        if len(chosen) > len(set(chosen)):
            raise forms.ValidationError(gettext("Two columns hold the same. Leave one of them out."))
        if not {"name", "given", "family"} & set(chosen):
            raise forms.ValidationError(gettext("No column has the student's name. Choose the one that does."))
        if "grade" not in chosen:
            raise forms.ValidationError(gettext("No column has the grade. Choose the one that does."))
        return data


class WhoIsWhoForm(forms.Form):
    """For each student of the roster whose name is here already: the same person, or another."""

    def __init__(self, *args: Any, twins: Sequence[tuple[Twin, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.twins = [twin for twin, _words in twins]
        for twin, words in twins:
            self.fields[f"{TWIN}{twin.key}"] = forms.ChoiceField(
                choices=[(SAME, _("The same student")), (OTHER, _("Another student of that name"))],
                label=words,
                widget=forms.RadioSelect,
                error_messages={"required": _("Say whether it is the same student.")},
            )

    def answers(self) -> dict[str, int]:
        return {twin.key: twin.pk if self.cleaned_data[f"{TWIN}{twin.key}"] == SAME else 0 for twin in self.twins}
