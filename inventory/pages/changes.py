"""What an event says of an instrument's or a gift's columns, in words: from and to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import models
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from core.events import TAPPED, TEXTS
from core.models import Event, Revision
from core.money import dollars
from core.revisions import OLD_TYPED
from inventory.catalog.load import catalog
from inventory.catalog.load.language import choice_word
from inventory.columns import COLUMNS, Column
from inventory.models import Donation, Instrument

GIFT_LABELS = {
    "donor_name": _("Donor"),
    "donor_contact": _("Contact"),
    "received_on": _("Received on"),
    "thanked_on": _("Thanked on"),
    "tax_form_signed_on": _("Tax form signed on"),
    "history": _("History of the instrument"),
}


@dataclass(frozen=True, slots=True)
class Change:
    """A column and its words before and after; ``before`` None where the event says only what was so afterward."""

    label: str
    before: str | None
    after: str
    is_erased: bool = False  # a name was taken out since

    @property
    def words(self) -> str:
        if self.before is None:
            return f"{self.label}: {self.after}"
        return f"{self.label}: {self.before} → {self.after}"


@dataclass(frozen=True, slots=True)
class References:
    """What is read besides the events: texts by number and column, names of places, columns that may be seen."""

    texts: Mapping[tuple[int, str], Revision]
    places: Mapping[str, Mapping[int, str]]
    columns: tuple[Column, ...] = COLUMNS
    shows_donor: bool = False


def changes_of(event: Event, refs: References) -> list[Change]:
    """Return what the event says of columns, in a page's order, without what the reader may not see."""
    if event.subject_type == Donation._meta.label_lower:
        return list(_gift_changes(event, refs)) if refs.shows_donor else []
    if event.subject_type != Instrument._meta.label_lower:
        return []
    return [change for column in refs.columns if column.log for change in _column_changes(event, column, refs)]


def _column_changes(event: Event, column: Column, refs: References) -> Iterator[Change]:
    name = column.in_events
    is_typed = column.name in event.after.get(TEXTS, {})
    if not is_typed and name not in event.after:
        return
    label = gettext(column.label)
    if is_typed:
        yield _text_change(event, column.name, label, refs)
    elif event.after[name] != OLD_TYPED:
        after, before = event.after[name], event.before.get(name)
        if column.name == "options":
            yield from _option_changes(before, after or {}, has_before=name in event.before)
        else:
            was = value_words(column, before, refs.places) if name in event.before else None
            yield Change(label, was, value_words(column, after, refs.places))
    else:
        yield Change(label, None, gettext("changed"))


def _text_change(event: Event, column: str, label: str, refs: References) -> Change:
    text = refs.texts.get((event.number, column))
    if text is None:
        return Change(label, None, gettext("not kept"))
    before = (text.before or gettext("empty")) if column in event.before.get(TEXTS, {}) else None
    return Change(label, before, text.after or gettext("empty"), is_erased=text.is_erased)


def _option_changes(before: Any, after: Mapping[str, str], *, has_before: bool) -> Iterator[Change]:
    was: Mapping[str, str] = before or {}
    for code in dict.fromkeys([*was, *after]):
        if not has_before or was.get(code) != after.get(code):
            label = code.replace("_", " ").capitalize()
            old = choice_word(code, was.get(code, "")) or gettext("empty") if has_before else None
            yield Change(label, old, choice_word(code, after.get(code, "")) or gettext("empty"))


def _gift_changes(event: Event, refs: References) -> Iterator[Change]:
    for name, label in GIFT_LABELS.items():
        if name in event.after.get(TEXTS, {}):
            yield _text_change(event, name, str(label), refs)
        elif name in event.after:
            was = _day_words(event.before.get(name)) if name in event.before else None
            yield Change(str(label), was, _day_words(event.after[name]))


def value_words(column: Column, value: Any, places: Mapping[str, Mapping[int, str]]) -> str:
    """Return a code, day or amount of an event as a page says it."""
    if value in (None, ""):
        return gettext("empty")
    if column.name in places:
        return places[column.name].get(value, gettext("no longer there"))
    if column.name == "kind_code":
        return str(catalog().kind(value).name)
    field: Any = Instrument._meta.get_field(column.name)
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if isinstance(field, models.DateField):
        return _day_words(value)
    if isinstance(field, models.DecimalField):
        return dollars(value) if column.name.endswith("_amount") else f"{Decimal(value).normalize():f} %"
    return str(value)


def _day_words(value: Any) -> str:
    return full_day(date.fromisoformat(value)) if value else gettext("empty")


def labels_of(event: Event) -> list[str]:
    """Return what the columns that an event speaks of are called, for who sees no more than that."""
    there = {*event.after, *event.after.get(TEXTS, {})}
    return [gettext(column.label) for column in COLUMNS if column.log and column.in_events in there]


def tapped_words(event: Event) -> Iterator[str]:
    """Say when it was tapped, where it waited for a signal."""
    if TAPPED in event.after:
        at = timezone.localtime(datetime.fromisoformat(event.after[TAPPED]))
        yield gettext("Tapped without a signal on %(day)s") % {"day": date_format(at, gettext("M j, g:i a"))}
