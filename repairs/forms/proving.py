"""The end of a job: re-checks and the play test, or the reason why it ends without one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices
from inventory.models import SEVERITY_LABELS, PlayTest, Severity
from inventory.rules.notes import shown_note
from inventory.rules.playing.results import contradiction

RESULTS = (
    (PlayTest.Result.PASS, _("It passes")),
    (PlayTest.Result.LIMITS, _("It passes with limits")),
    (PlayTest.Result.FAIL, _("It fails")),
)


class ProveForm(OnceForm):
    """``rechecks`` are those of pages.proving; each may be checked as found again."""

    is_looked_at = forms.BooleanField(required=False, label=_("I looked at each of these"))
    result = forms.ChoiceField(required=False, choices=RESULTS, widget=forms.RadioSelect)
    limits_text = forms.CharField(
        required=False,
        max_length=400,
        label=_("The limits, in words a parent understands"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    failed_notes = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple)
    weak_notes = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple)
    note = forms.CharField(
        required=False, max_length=4000, label=_("What went wrong"), widget=forms.Textarea(attrs={"rows": 2})
    )
    tester_plays = forms.CharField(required=False, max_length=60, label=_("The tester's instrument"))

    def __init__(self, *args: Any, notes: Sequence[str], rechecks: Sequence[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rechecks = tuple(rechecks)
        for name in ("failed_notes", "weak_notes"):
            set_choices(self, name, [(note, shown_note(note)) for note in notes])
        for line in self.rechecks:
            self.fields[f"again_{line.code}"] = forms.BooleanField(required=False, label=_("Found again"))
            self.fields[f"bad_{line.code}"] = forms.ChoiceField(
                required=False, choices=list(SEVERITY_LABELS.items()), initial=Severity.MODERATE, label=_("How bad")
            )
            self.fields[f"at_{line.code}"] = forms.ChoiceField(
                required=False, choices=line.parts, initial=line.parts[0][0], label=_("Where")
            )

    def recheck_rows(self) -> list[dict[str, Any]]:
        return [
            {
                "line": line,
                "again": self[f"again_{line.code}"],
                "bad": self[f"bad_{line.code}"],
                "at": self[f"at_{line.code}"],
            }
            for line in self.rechecks
        ]

    def found_again(self) -> list[dict[str, str]]:
        data = self.cleaned_data
        return [
            {
                "part": data[f"at_{line.code}"] or line.parts[0][0],
                "place": line.place,
                "fault": line.fault,
                "severity": data[f"bad_{line.code}"] or str(Severity.MODERATE),
            }
            for line in self.rechecks
            if data.get(f"again_{line.code}")
        ]

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if self.errors or self.found_again():
            return data
        if self.rechecks and not data.get("is_looked_at"):
            self.add_error("is_looked_at", gettext("Look at each of these again, then check the box."))
        if not data.get("result"):
            self.add_error("result", gettext("Play it, then choose how it went."))
            return data
        notes = self.notes_at_fault(data)
        wrong = contradiction(
            data["result"], failed=notes.get("failed_notes", ()), weak=notes.get("weak_notes", ()),
            limits_text=data.get("limits_text", ""), note=data.get("note", ""),
        )  # fmt: skip
        if wrong:
            self.add_error(*wrong)
        return data

    @staticmethod
    def notes_at_fault(data: dict[str, Any]) -> dict[str, Any]:
        """The notes that a test keeps, by field; a pass has none, and limits lose none."""
        kept = {
            PlayTest.Result.FAIL: ("failed_notes", "weak_notes"),
            PlayTest.Result.LIMITS: ("weak_notes",),
        }.get(data.get("result", ""), ())
        return {name: data[name] for name in kept if data.get(name)}


class GiveUpForm(forms.Form):
    because = forms.CharField(
        max_length=200,
        label=_("Why the job ends here"),
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("It goes back to storage as it is. Its findings stay."),
        error_messages={"required": _("Say why the job ends here.")},
    )
