"""Lend and take back: one form each, filled in as far as possible."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.days import short_day
from core.forms import set_choices, set_queryset
from core.keys import key_of
from core.photos import CleanPhoto, PhotoRefusedError, clean_photo
from inventory.catalog.load import catalog
from inventory.catalog.load.language import catalog_word
from inventory.models import Accessory, Instrument, Readiness
from loans.forms.signing import SigningFields
from loans.forms.students import LEVELS
from loans.models import Loan, Student
from loans.rules.due import due_proposals, end_of_term, first_term_ends, school_year_ends
from loans.rules.people import contact_parts
from loans.selectors.students import students_of
from loans.services import NewGuardian, NewStudent

MOST_PHOTOS = 6
OTHER_DAY = "other"
PROPOSED = (_("End of the school year"), _("In 2 weeks"), _("In 6 weeks"))  # as loans.rules.due.due_proposals
COUNT = {"inputmode": "numeric", "min": "0", "max": "99"}


class StudentSelect(forms.Select):
    """Options carry the student's level and guardian, for the script that filters and fills in."""

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        student = getattr(value, "instance", None)
        if isinstance(student, Student):
            option["attrs"] |= {
                "data-level": student.level,
                "data-guardian": student.guardian_name,
                "data-adult": "" if student.has_guardians else "1",
            }
        return option


class StudentField(forms.ModelChoiceField):  # type: ignore[type-arg]  # the class takes none at run time
    def label_from_instance(self, obj: Any) -> str:
        if obj.grade:
            words = (
                gettext("%(name)s, grade %(grade)s, has %(out)d out")
                if obj.out
                else gettext("%(name)s, grade %(grade)s")
            )
        else:
            words = gettext("%(name)s, has %(out)d out") if obj.out else "%(name)s"
        return words % {"name": obj.sort_name, "grade": obj.grade, "out": obj.out}


class PhotosInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class PhotosField(forms.FileField):
    """Several photos at once, each cleaned; the content decides what is a photo."""

    widget = PhotosInput

    def clean(self, data: Any, initial: Any = None) -> list[CleanPhoto]:
        uploads = data if isinstance(data, list) else [data] if data else []
        if len(uploads) > MOST_PHOTOS:
            raise forms.ValidationError(gettext("At most %(most)d photos at once.") % {"most": MOST_PHOTOS})
        clean, refused = [], []
        for upload in uploads:
            try:
                clean.append(clean_photo(upload, max_bytes=settings.PHOTO_MAX_BYTES))
            except PhotoRefusedError as error:
                refused.append(f"{upload.name}: {error}")
        if refused:
            raise forms.ValidationError(refused)
        return clean


class AccessoryCounts(forms.Form):
    """A check box for "all here", or a number for each accessory. ``rows`` returns the bound fields."""

    all_here = forms.BooleanField(required=False)
    prefix_word = "count"

    def add_counts(self, wanted: Sequence[tuple[str, str, int]], initial: dict[str, int | None]) -> None:
        """Add a field for each of ``wanted``: code, name, how many there should be."""
        self.wanted = list(wanted)
        for code, name, _expected in self.wanted:
            self.fields[f"{self.prefix_word}_{code}"] = forms.IntegerField(
                label=name,
                required=False,
                min_value=0,
                max_value=99,
                initial=initial.get(code),
                widget=forms.NumberInput(attrs=COUNT),
            )

    def rows(self) -> list[dict[str, Any]]:
        return [
            {"field": self[f"{self.prefix_word}_{code}"], "expected": expected, "name": name}
            for code, name, expected in self.wanted
        ]

    @property
    def is_part_counted(self) -> bool:
        """Whether an earlier count was short; then the page shows the numbers."""
        return any(row["field"].initial is not None and row["field"].initial < row["expected"] for row in self.rows())

    def counts(self) -> dict[str, int]:
        """Return the counts; with "all here" checked, the expected ones. An empty field counts as 0."""
        if self.cleaned_data.get("all_here"):
            return {code: expected for code, _name, expected in self.wanted}
        return {
            code: self.cleaned_data.get(f"{self.prefix_word}_{code}") or 0 for code, _name, _expected in self.wanted
        }

    def in_words(self) -> str:
        return ", ".join(f"{expected} × {name}" if expected > 1 else name for _code, name, expected in self.wanted)


class LendForm(SigningFields, AccessoryCounts):
    nonce = forms.UUIDField(widget=forms.HiddenInput)
    student = StudentField(
        label=_("Student"),
        queryset=Student.objects.none(),
        required=False,
        widget=StudentSelect,
        empty_label=_("Choose…"),
    )
    new_who = forms.ChoiceField(
        required=False, choices=Student.Who.choices, initial=Student.Who.STUDENT, label=_("Who borrows")
    )
    new_name = forms.CharField(required=False, max_length=120, label=_("Name"))
    new_grade = forms.CharField(required=False, max_length=10, label=_("Grade"))
    new_level = forms.ChoiceField(required=False, choices=LEVELS, label=_("Plays at"), initial="first_year")
    new_guardian_name = forms.CharField(required=False, max_length=120, label=_("Guardian's name"))
    new_guardian_contact = forms.CharField(required=False, max_length=200, label=_("Guardian's phone or email"))
    second = forms.BooleanField(required=False, label=_("Lend a second one of this kind"))
    asks_second = False  # the student has one already
    limits_reason = forms.CharField(
        required=False,
        max_length=400,
        label=_("Why it goes out anyway"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    due = forms.ChoiceField(widget=forms.RadioSelect, label=_("Due back"))
    due_other = forms.DateField(
        required=False, label=_("Another date"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    photos = PhotosField(
        required=False,
        label=_("Photos of its condition"),
        help_text=_("At most 6. They are kept with the hand-out inspection."),
        widget=PhotosInput(attrs={"accept": "image/*"}),
    )

    def __init__(self, *args: Any, instrument: Instrument, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.has_limits = instrument.readiness == Readiness.WITH_LIMITS
        set_queryset(self, "student", students_of(instrument.school))
        ends, term = school_year_ends(catalog().settings), first_term_ends(catalog().settings)
        proposed = dict(zip(due_proposals(today=today, ends=ends), PROPOSED, strict=True))
        for on, words in (
            (end_of_term(today=today, ends=ends, first_term=term), _("End of the term")),
            (today, _("Today")),
        ):
            proposed.setdefault(on, words)
        choices = [(on.isoformat(), f"{words}, {short_day(on)}") for on, words in proposed.items()]
        set_choices(self, "due", [*choices, (OTHER_DAY, gettext("Another date"))])
        self.fields["due"].initial = choices[0][0]
        accessories: list[Accessory] = list(instrument.accessories.all())
        self.add_counts(
            [(row.code, str(row), row.expected) for row in accessories],
            {row.code: row.present for row in accessories},
        )
        for name in ("new_name", "new_grade", "new_guardian_name", "new_guardian_contact"):
            self.fields[name].widget.attrs["autocomplete"] = "off"

    @property
    def adds_student(self) -> bool:
        """Whether a new student was typed."""
        return bool(self.data.get("new_name")) if self.is_bound else False

    @property
    def new_borrower(self) -> Student:
        """Return who is being added, as far as it decides what is asked."""
        return Student(who=self["new_who"].value() or Student.Who.STUDENT)

    @property
    def has_guardians(self) -> bool:
        """Whether a guardian signs as well, as far as the page knows who borrows."""
        key = key_of(str(self["student"].value() or ""))
        students: Any = self.fields["student"]
        chosen = students.queryset.filter(pk=key).first() if key else None
        return bool((chosen or self.new_borrower).has_guardians)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self._clean_student(data)
        self._clean_due(data)
        borrower = data.get("student") or self.new_borrower
        guardian = data.get("new_guardian_name", "") if borrower.pk is None else ""
        self.clean_signing(data, borrower=borrower, guardian=guardian)
        if self.has_limits and not data.get("limits_reason"):
            self.add_error("limits_reason", gettext("Say why it goes out despite its limits."))
        return data

    def _clean_student(self, data: dict[str, Any]) -> None:
        if data.get("student") and data.get("new_name"):
            self.add_error("student", gettext("Choose a student or add a new one, not both."))
        elif not data.get("student") and not data.get("new_name"):
            if "student" not in self.errors:
                self.add_error("student", gettext("Who borrows it? Choose a student or add one."))
        elif data.get("new_name") and not data.get("new_grade") and self.new_borrower.has_guardians:
            self.add_error("new_grade", gettext("Which grade?"))

    def _clean_due(self, data: dict[str, Any]) -> None:
        if data.get("due") == OTHER_DAY:
            if not data.get("due_other") and "due_other" not in self.errors:
                self.add_error("due_other", gettext("Which date?"))
            data["due_on"] = data.get("due_other")
        elif data.get("due"):
            data["due_on"] = date.fromisoformat(data["due"])

    def new_student(self) -> NewStudent | None:
        """Return the fields for ``add_student``, or None if a student was chosen."""
        data = self.cleaned_data
        if not data.get("new_name"):
            return None
        is_adult = not self.new_borrower.has_guardians
        return {
            "who": self.new_borrower.who,
            "name": data["new_name"],
            "grade": "" if is_adult else data["new_grade"],
            "level": data.get("new_level") or "first_year",
            "guardians": []
            if is_adult
            else [
                NewGuardian(
                    name=data.get("new_guardian_name", ""), **contact_parts(data.get("new_guardian_contact", ""))
                )
            ],
        }


SAME, WALKED = "same", "walked"
STORE, BENCH = "store", "bench"


class TakeBackForm(AccessoryCounts):
    """How it came back, what came with it, and where it goes next."""

    prefix_word = "back"
    found = forms.ChoiceField(
        choices=((SAME, _("Same as at hand-out")), (WALKED, _("As inspected"))),
        error_messages={"required": _("Say how it came back, or inspect it part by part.")},
    )
    to = forms.ChoiceField(choices=((STORE, _("Back in storage")), (BENCH, _("Straight to the bench"))))
    bench = forms.ChoiceField(required=False, label=_("Which bench"))
    because = forms.CharField(required=False, max_length=200, label=_("Note for the bench"))

    def __init__(
        self,
        *args: Any,
        loan: Loan,
        benches: Sequence[tuple[str, str]],
        counted: Mapping[str, int] | None = None,
        **kwargs: Any,
    ) -> None:
        """``counted`` are the accessories that the return inspection has already counted."""
        super().__init__(*args, **kwargs)
        self.benches = list(benches)
        set_choices(self, "bench", benches)
        handed = [(row["code"], catalog_word(row["name"]), int(row["count"])) for row in loan.accessories]
        self.add_counts(handed, dict(counted or {}))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("to") == BENCH and not data.get("bench"):
            self.add_error("bench", gettext("Which bench does it go to?"))
        is_counted = any(data.get(f"back_{code}") is not None for code, *_ in self.wanted)
        if self.wanted and not data.get("all_here") and not is_counted:
            self.add_error("all_here", gettext("Count what came back: all here, or a number for each."))
        return data
