"""Cleaning between players, where it is, answers to reports, photos."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, PhotoField, RowsField, set_choices, set_queryset
from inventory.catalog.load import catalog
from inventory.catalog.schema import Cleaner, Kind
from inventory.models import Instrument, InstrumentQuerySet, Whereabouts
from inventory.rules.facts import Owed


def wet_too_short(cleaner: Cleaner, minutes: int) -> str:
    """Say how long it has to stay wet, where these minutes are too few; else ""."""
    if minutes >= cleaner.wet_minutes:
        return ""
    words = ngettext(
        "It has to stay wet for at least %(count)d minute.",
        "It has to stay wet for at least %(count)d minutes.",
        cleaner.wet_minutes,
    )
    return words % {"count": cleaner.wet_minutes}


class CleaningForm(OnceForm):
    """What it was cleaned with, and how long it stayed wet."""

    product = forms.ChoiceField(
        label=_("Cleaned with"), error_messages={"required": _("Say what it was cleaned with.")}
    )
    wet_minutes = forms.IntegerField(
        label=_("Minutes it stayed wet"),
        help_text=_("At least as long as the label says."),
        min_value=0,
        max_value=1440,
        error_messages={"required": _("Enter the minutes; 0 for soap and water alone.")},
    )
    is_full = forms.BooleanField(
        label=_("The whole instrument is cleaned too: brass bathed, a woodwind cleaned by hand"), required=False
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_choices(
            self, "product", [("", gettext("Choose")), *((one.code, one.name) for one in catalog().cleaners.values())]
        )

    def clean_wet_minutes(self) -> int:
        minutes: int = self.cleaned_data["wet_minutes"]
        cleaner = catalog().cleaners.get(self.cleaned_data.get("product", ""))
        if cleaner is not None and (words := wet_too_short(cleaner, minutes)):
            raise forms.ValidationError(words)
        return minutes

    @property
    def cleaned(self) -> frozenset[Owed]:
        """The cleaning that was done."""
        return frozenset(Owed) if self.cleaned_data.get("is_full") else frozenset({Owed.HYGIENE})


class HygieneForm(CleaningForm):
    """One checkbox for each item, so that nothing is forgotten."""

    done = forms.MultipleChoiceField(
        label=_("Done"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Check off what is done.")},
    )

    def __init__(self, *args: Any, kind: Kind, owed: frozenset[Owed], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = list(kind.between_players())
        self.to_do = words or [("all", gettext("Cleaned and dry"))]
        set_choices(self, "done", self.to_do)
        if Owed.FULL not in owed:
            del self.fields["is_full"]

    def clean_done(self) -> list[str]:
        done: list[str] = self.cleaned_data["done"]
        missing = [words for code, words in self.to_do if code not in done]
        if missing:
            raise forms.ValidationError(gettext("It stays in until everything is checked off."))
        return done


class ToCleanForm(CleaningForm):
    """Which of those to clean are clean now; all that are listed, unless somebody unchecks some."""

    instruments = RowsField(
        queryset=Instrument.objects.none(), error_messages={"required": _("Check at least one instrument.")}
    )

    def __init__(self, *args: Any, instruments: InstrumentQuerySet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "instruments", instruments)


class WhereaboutsForm(forms.Form):
    to = forms.ChoiceField(
        choices=[
            (Whereabouts.NOT_FOUND.value, _("Not found")),
            (Whereabouts.IN_STORE.value, _("Found again, in storage")),
        ]
    )


class AnswerForm(forms.Form):
    answer = forms.CharField(
        label=_("What you found and what you did"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3, "maxlength": 400}),
        error_messages={"required": _("Say in a few words what you found.")},
    )


class PhotoForm(OnceForm):
    """A photo with a caption."""

    photo = PhotoField(
        label=_("Photo"),
        error_messages={
            "required": _("Choose a photo first."),
            "empty": _("The photo is empty. Choose it again."),
        },
        help_text=_("JPEG, PNG, WebP or HEIC. Location, time and camera are removed from it."),
    )
    caption = forms.CharField(label=_("Caption"), max_length=200, required=False)
