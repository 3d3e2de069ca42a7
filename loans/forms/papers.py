"""Forms of papers to sign: printed, and taken in again."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import RowsField, set_queryset
from core.photos import CleanScan, PhotoRefusedError, clean_scan
from inventory.models import Instrument
from loans.models import Student, StudentQuerySet
from loans.rules.codes import code_in

MOST_PRINTED = 60
MOST_PAPERS = 30
MOST_NAMED = 12  # letters of a typed code


class PrintToSignForm(forms.Form):
    """Whom for; for one student, which instrument."""

    students = RowsField(
        queryset=Student.objects.none(),
        label=_("Print for"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Check at least one student.")},
    )
    number = forms.CharField(
        required=False,
        max_length=40,
        label=_("Number of the instrument"),
        help_text=_("Leave empty to write it in by hand. What is already out is filled in for you."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )

    def __init__(self, *args: Any, students: StudentQuerySet, user: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user
        rows = students.order_by("sort_name", "pk")
        set_queryset(self, "students", rows)
        keys = list(rows.values_list("pk", flat=True)[: MOST_PRINTED + 1])
        self.fields["students"].initial = keys[:MOST_PRINTED]
        if len(keys) != 1:
            del self.fields["number"]

    def clean_students(self) -> Any:
        students = self.cleaned_data["students"]
        if students.count() > MOST_PRINTED:
            words = gettext("At most %(most)d at once: uncheck some, and print the rest after these.")
            raise forms.ValidationError(words % {"most": MOST_PRINTED})
        return students

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        number = data.get("number", "")
        rows = Instrument.objects.visible_to(self.user, "loans.lend_instrument")
        data["instrument"] = rows.filter(asset_number__iexact=number).first() if number else None
        if number and data["instrument"] is None:
            self.add_error("number", gettext("No instrument of your schools has this number."))
        return data


class ScansInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class ScansField(forms.FileField):
    """Photos and PDFs, each checked by its content."""

    widget = ScansInput

    def clean(self, data: Any, initial: Any = None) -> list[tuple[str, CleanScan]]:
        uploads = data if isinstance(data, list) else [data] if data else []
        if not uploads:
            raise forms.ValidationError(gettext("Choose at least one photo or PDF."))
        if len(uploads) > MOST_PAPERS:
            raise forms.ValidationError(gettext("At most %(most)d at once.") % {"most": MOST_PAPERS})
        clean, refused = [], []
        for upload in uploads:
            try:
                clean.append((str(upload.name), clean_scan(upload)))
            except PhotoRefusedError as error:
                refused.append(f"{upload.name}: {error}")
        if refused:
            raise forms.ValidationError(refused)
        return clean


class PapersInForm(forms.Form):
    scans = ScansField(
        label=_("Photos or scans of signed papers"),
        help_text=_("One paper on each photo. A PDF may hold many: the code on its pages says where each begins."),
        widget=ScansInput(attrs={"accept": "application/pdf,image/*"}),
    )
    code = forms.CharField(
        required=False,
        max_length=MOST_NAMED,
        label=_("Code on the paper"),
        help_text=_("Only for a single paper whose code cannot be read."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )

    def clean_code(self) -> str:
        typed: str = self.cleaned_data["code"]
        code = code_in(typed)
        if typed and not code:
            raise forms.ValidationError(
                gettext("This is not the code of a paper. Check it again: a character is wrong.")
            )
        return code

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("code") and len(data.get("scans", [])) > 1:
            self.add_error("code", gettext("With a code typed, send one paper at a time."))
        return data
