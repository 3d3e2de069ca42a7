"""What a tap on the inspection walk carries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OneSentence, PhotoField, set_choices
from inventory.models import SEVERITY_LABELS, Accessory, Unsafe


class TapForm(OneSentence, forms.Form):
    """``key`` is made by the phone, once for each tap: the same tap sent twice counts once."""

    key = forms.UUIDField(required=False)


class SafetyForm(TapForm):
    is_safe = forms.TypedChoiceField(
        choices=[("1", _("yes")), ("0", _("no"))],
        coerce=lambda value: value == "1",
        error_messages={"required": _("Answer yes or no: is it safe to handle?")},
    )
    because = forms.ChoiceField(choices=Unsafe.choices, required=False)
    more = forms.CharField(max_length=70, required=False)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        unsafe, more = data.get("because") or Unsafe.OTHER, str(data.get("more", "")).strip()
        if data.get("is_safe") is False and not (data.get("because") or more):
            raise forms.ValidationError(gettext("Say what makes it unsafe, so that the next person knows."))
        label = str(Unsafe(unsafe).label) if data.get("because") else ""
        return data | {"unsafe": unsafe, "reason": ": ".join(word for word in (label, more) if word)}


class PartForm(TapForm):
    part = forms.CharField(max_length=60)


class RestForm(TapForm):
    part = forms.CharField(max_length=60, required=False)


class FindingForm(PartForm):
    fault = forms.CharField(
        max_length=40, error_messages={"required": _("Choose what is wrong first, then how bad it is.")}
    )
    severity = forms.ChoiceField(
        choices=list(SEVERITY_LABELS.items()),
        error_messages={"required": _("Choose how bad it is: light, moderate or severe.")},
    )
    place = forms.MultipleChoiceField(required=False)
    detail = forms.CharField(max_length=40, required=False)
    note = forms.CharField(
        max_length=10_000,
        required=False,
        error_messages={
            "max_length": _("The note is longer than 10,000 characters. Shorten it; nothing else is lost.")
        },
    )
    photo = PhotoField(required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # The service knows which places a part has; here any word passes.
        sent = self.data.getlist("place") if hasattr(self.data, "getlist") else []
        set_choices(self, "place", [(code, code) for code in sent])

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        # Each fault on the page has chips of its own; only those of the chosen fault count.
        data["detail"] = str(self.data.get(f"detail-{data.get('fault', '')}", data.get("detail", "")))[:40]
        return data


class RemoveFindingForm(PartForm):
    place = forms.CharField(max_length=40, required=False)
    fault = forms.CharField(max_length=40)


class PhotoForm(RestForm):
    photo = PhotoField(error_messages={"required": _("Choose a photo first."), "empty": _("The photo is empty.")})


class FinishForm(TapForm):
    note = forms.CharField(max_length=4000, required=False)


class CountsForm(TapForm):
    """One number for each accessory on the list; ``all`` means everything is there.

    ``counts`` says by code what was counted before; where nothing was, a field begins with what there should be.
    """

    all = forms.BooleanField(required=False)

    def __init__(self, *args: Any, accessories: Iterable[Accessory], counts: Mapping[str, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.accessories = {f"count-{row.code}": row for row in accessories}
        for name, row in self.accessories.items():
            self.fields[name] = forms.IntegerField(
                label=str(row),
                min_value=0,
                max_value=999,
                required=False,
                initial=counts.get(row.code, row.expected),
                widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
            )

    @property
    def lines(self) -> list[tuple[Accessory, forms.BoundField]]:
        return [(row, self[name]) for name, row in self.accessories.items()]

    @property
    def counts(self) -> dict[str, int]:
        data = self.cleaned_data
        if data.get("all"):
            return {row.code: row.expected for row in self.accessories.values()}
        return {row.code: data[name] for name, row in self.accessories.items() if data.get(name) is not None}

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if not data.get("all") and all(data.get(name) is None for name in self.accessories):
            raise forms.ValidationError(gettext("Count at least one item."))
        return data
