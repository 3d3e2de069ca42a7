"""What happened at a step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OneSentence, PhotoField, set_choices
from inventory.catalog.schema import Cleaner
from inventory.forms.care import wet_too_short
from repairs.models import OUTCOME_LABELS, StockItem
from repairs.rules.bounds import MOST_USED
from repairs.rules.facts import Outcome
from repairs.services.jobs import FreeUse

MOST_MINUTES = 480  # a working day: more is a slip of the thumb
OF_SOAKED = "soaked_"
OTHER = "other"  # the cleaner whose minutes only its label knows
SOAKED = [(Outcome.FREED, _("Came free")), (Outcome.STILL_STUCK, _("Still stuck"))]


def _in_words(item: StockItem) -> str:
    """Say "pad set, fits Orrin 12 (3 left, drawer B)"."""
    fits = gettext(", fits %(model)s") % {"model": item.fits} if item.fits else ""
    count = f"{item.quantity.normalize():f}"
    left = gettext("%(count)s left") % {"count": count} if item.quantity > 0 else gettext("none left on record")
    return f"{item}{fits} ({', '.join(filter(None, (left, item.place)))})"


class NotedForm(OneSentence, forms.Form):
    """What may be written and shown beside what was tapped."""

    note = forms.CharField(
        required=False,
        label=_("Note"),
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"max_length": _("The note is longer than 4,000 characters. Shorten it; nothing else is lost.")},
    )
    photo = PhotoField(
        required=False, label=_("Photo"), error_messages={"empty": _("The photo is empty. Choose it again.")}
    )


def _with_minutes(cleaner: Cleaner) -> str:
    """Say "Hydrogen peroxide, 3%: 10 min"."""
    if not cleaner.wet_minutes:
        return cleaner.name
    return gettext("%(name)s: %(minutes)d min") % {"name": cleaner.name, "minutes": cleaner.wet_minutes}


def used(**more: Any) -> forms.DecimalField:
    """A field for how much a step took, which may be a part of a unit."""
    widget = forms.NumberInput(attrs={"inputmode": "decimal", "step": "any", "min": "0"})
    return forms.DecimalField(
        required=False, max_value=MOST_USED, max_digits=6, decimal_places=3, widget=widget, **more
    )


class KeyForm(forms.Form):
    """Names one step of the plan."""

    step = forms.CharField(max_length=160)


class StepTapForm(KeyForm):
    """A phone sends a form it keeps under ``kept``, and the same one again as ``key``: both count once."""

    key = forms.UUIDField(required=False)
    kept = forms.UUIDField(required=False)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        data["key"] = data.get("key") or data.get("kept")
        return data


class StepForm(KeyForm, NotedForm):
    """An outcome, with what was used. ``parts`` are (code, name, unit, quantity, amount) of what the step usually takes."""

    nonce = forms.UUIDField()
    outcome = forms.ChoiceField(choices=OUTCOME_LABELS, error_messages={"required": _("Choose how it ended.")})
    minutes = forms.DecimalField(
        required=False,
        label=_("Your minutes"),
        min_value=0,
        max_value=MOST_MINUTES,
        max_digits=6,
        decimal_places=1,
        help_text=_("Leave empty to use the clock, if it was started."),
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "1", "min": "0"}),
    )
    free_part = forms.ChoiceField(
        required=False,
        label=_("Part from stock"),
        error_messages={
            "invalid_choice": _("That part is no longer on this bench. Choose again; nothing else is lost.")
        },
    )
    free_count = used(label=_("Quantity used"), initial=1)
    product = forms.ChoiceField(
        required=False,
        label=_("Cleaned with"),
        help_text=_("It stayed wet at least as long as the label says."),
        widget=forms.RadioSelect,
    )
    wet_minutes = forms.IntegerField(
        required=False,
        label=_("Minutes it stayed wet"),
        help_text=_("Leave empty for the least named above."),
        min_value=0,
        max_value=1440,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    def __init__(
        self,
        *args: Any,
        parts: Sequence[Any] = (),
        free_parts: Sequence[StockItem] = (),
        soaked: Sequence[Any] = (),
        cleaners: Sequence[Cleaner] = (),
        **kwargs: Any,
    ) -> None:
        """``free_parts`` are outside the catalog and lie on the bench.

        ``soaked`` are stuck parts that soak with it, or the same work at other parts. ``cleaners`` are what a cleaning
        between players may be done with; none for any other step.
        """
        super().__init__(*args, **kwargs)
        self.is_asking = False  # a bath was said to be done before the page had asked how the parts came out
        self.soaked = {f"{OF_SOAKED}{one.key}": one for one in soaked}
        for name, one in self.soaked.items():
            about: dict[str, Any] = {"required": False, "label": capfirst(one.part_name)}
            self.fields[name] = (
                forms.ChoiceField(choices=SOAKED, widget=forms.RadioSelect({"form": "step"}), **about)
                if one.rung
                else forms.BooleanField(widget=forms.CheckboxInput({"form": "step", "value": Outcome.DONE}), **about)
            )
        self.cleaners = {one.code: one for one in cleaners}
        if cleaners:
            set_choices(self, "product", [(one.code, _with_minutes(one)) for one in cleaners])
        else:
            del self.fields["product"], self.fields["wet_minutes"]
        self.parts = tuple(parts)
        self.free_parts = {str(item.pk): item for item in free_parts}
        if free_parts:
            choices = [("", gettext("None")), *((key, _in_words(item)) for key, item in self.free_parts.items())]
            set_choices(self, "free_part", choices)
        else:
            del self.fields["free_part"], self.fields["free_count"]
        for part in self.parts:
            self.fields[f"use_{part.code}"] = used(
                label=part.name, min_value=0, initial=part.quantity.normalize(), help_text=part.unit
            )

    def part_fields(self) -> Iterator[forms.BoundField]:
        return (self[f"use_{part.code}"] for part in self.parts)

    def parts_used(self) -> list[dict[str, Any]] | None:
        """As entered, priced by the quantity; None where nothing was asked, so that the usual is recorded."""
        if not self.parts or not any(f"use_{part.code}" in self.data for part in self.parts):
            return None
        used = []
        for part in (one for one in self.parts if f"use_{one.code}" in self.data):
            quantity = self.cleaned_data.get(f"use_{part.code}") or Decimal(0)
            if quantity > 0:
                each = part.amount / part.quantity if part.quantity else part.amount
                amount = (each * quantity).quantize(Decimal("0.01"))
                used.append({"code": part.code, "quantity": str(quantity.normalize()), "amount": str(amount)})
        return used

    @property
    def is_done(self) -> bool:
        """Whether the work is said to be done."""
        return self.is_bound and self.data.get("outcome") == Outcome.DONE

    @property
    def is_use_refused(self) -> bool:
        """Whether something is wrong with what was used, noted or shown."""
        return any(
            name in self.fields and name not in {"step", "nonce", "outcome", "product", "wet_minutes", *self.soaked}
            for name in self.errors
        )

    def soaked_fields(self) -> Iterator[forms.BoundField]:
        return (self[name] for name in self.soaked)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        stuck = [name for name, one in self.soaked.items() if one.rung]
        if not self.is_done and any(data.get(name) for name in self.soaked.keys() - stuck):
            self.add_error(
                None, gettext("The others selected can only be done. Uncheck them, or record this one as done.")
            )
        if self.is_done and stuck and not any(self.data.get(name) for name in stuck):
            self.is_asking = True
            self.add_error(None, gettext("Say how each stuck part came out of the bath."))
        elif self.is_done:
            for name in (one for one in stuck if not data.get(one)):
                words = gettext("Say how it came out of the bath: %(part)s.")
                self.add_error(name, words % {"part": self.fields[name].label})
        if data.get("outcome") == Outcome.DONE and self.cleaners:
            self._check_cleaning(data)
        if data.get("free_part") and "free_count" not in self.errors and not (data.get("free_count") or 0) > 0:
            self.add_error("free_count", gettext("Enter how many were used, more than 0."))
        return data

    def _check_cleaning(self, data: dict[str, Any]) -> None:
        """A cleaning that is done names its product; where no minutes are typed, they are the least that it needs."""
        cleaner = self.cleaners.get(data.get("product", ""))
        if cleaner is None:
            self.add_error("product", gettext("Say what it was cleaned with."))
            return
        minutes = data.get("wet_minutes")
        if minutes is None and cleaner.code == OTHER:
            self.add_error("wet_minutes", gettext("Enter the minutes that its label asks for."))
        elif minutes is None:
            data["wet_minutes"] = cleaner.wet_minutes
        elif words := wet_too_short(cleaner, minutes):
            self.add_error("wet_minutes", words)

    def cleaned_with(self) -> dict[str, Any]:
        """What a cleaning between players was done with, as do_step takes it; nothing of another step."""
        data = self.cleaned_data
        is_cleaned = self.cleaners and data["outcome"] == Outcome.DONE
        return {name: data[name] for name in ("product", "wet_minutes")} if is_cleaned else {}

    def free_use(self) -> FreeUse | None:
        """The part outside the catalog that was used, if one was."""
        item = self.free_parts.get(self.cleaned_data.get("free_part", ""))
        return FreeUse(item=item, quantity=self.cleaned_data["free_count"]) if item else None

    def came_out(self) -> dict[str, str]:
        """How stuck parts came out of a bath or soaked beside this one, and where the same is done, by their own key.

        As it was posted, so that a form posted twice says the same when the part is no longer stuck.
        """
        if self.cleaned_data["outcome"] not in {Outcome.DONE, Outcome.FREED, Outcome.STILL_STUCK}:
            return {}
        pairs = ((name, self.data[name]) for name in self.data if name.startswith(OF_SOAKED))
        return {name.removeprefix(OF_SOAKED): outcome for name, outcome in pairs if outcome}

    def attempt(self) -> dict[str, Any]:
        """What was entered, as do_step takes it."""
        data = self.cleaned_data
        return {
            "step_key": data["step"], "outcome": data["outcome"], "nonce": data["nonce"],
            "minutes": data["minutes"] or None, "parts_used": self.parts_used(), "note": data["note"],
            "picture": data["photo"], "free_use": self.free_use(), "soaked": self.came_out(), **self.cleaned_with(),
        }  # fmt: skip
