"""Entries of the event log as lines of a page and rows of a file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import cache
from typing import Any

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db import models
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.timezone import localtime
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from core.events import TEXTS
from core.models import Event
from core.money import dollars
from core.sheets import OutValue
from core.traces import NOW
from desk.pages.history import act_words, detail, reason_of, sentence, short_words
from desk.pages.leaving import LABELS
from desk.selectors.event_log import EXPORTED, Entries, happened_on
from desk.selectors.history import BEGINS
from inventory.models import Disposal, Donation, Instrument
from inventory.pages.changes import Change, References, changes_of
from inventory.selectors.figures import rules

HEADER = (
    _("Entry"), _("Entered on"), _("Time"), _("Happened on"), _("Person"), _("Act"), _("Details"), _("From and to"),
    _("Asset number"), _("School"), _("Marked as entered in error"), _("Request"), _("Hash"),
)  # fmt: skip
ON_PAPER = (0, 1, 2, 4, 5, 6, 7, 8, 9)  # there is no room for more
OWN_WORDS = {Instrument._meta.label_lower, Donation._meta.label_lower}  # changes_of has theirs
NOT_VALUES = {TEXTS, NOW}
FIGURE_SET = "figure_set"


def what(event: Event) -> str:
    """Say what an entry is about; of an export, which list it was, and of a figure, which."""
    if event.act == FIGURE_SET and (rule := rules().get(event.after.get("key", ""))):
        return gettext("Figure set: %(name)s") % {"name": rule.name}
    if event.act != EXPORTED:
        return sentence(event)
    values = {name: event.after.get(name, "") for name in ("what", "form", "rows")}
    return gettext("Exported: %(what)s, %(rows)s rows, %(form)s") % values


def act_choices(acts: Iterable[str]) -> list[tuple[str, str]]:
    """The acts by their names."""
    return sorted(((act, act_words(act)) for act in acts), key=lambda choice: choice[1].casefold())


def values_changed(event: Event, refs: References) -> list[Change]:
    """What an entry changed, from and to, in plain words; of one that begins a record, all that it says."""
    if event.subject_type in OWN_WORDS:
        return changes_of(event, refs)
    begins = event.act in BEGINS
    names = [name for name in event.after if name not in NOT_VALUES and (begins or name in event.before)]
    model = _models().get(event.subject_type) if names else None
    if model is Disposal:
        names = [*(name for name in LABELS if name in names), *(name for name in names if name not in LABELS)]

    def words(said: Mapping[str, Any], name: str) -> str:
        value = said[name]
        named = refs.places.get(name, {}).get(value) if isinstance(value, int) else None
        return named or _words(model, name, value)

    return [
        Change(_label(model, name), None if begins else words(event.before, name), words(event.after, name))
        for name in names
        if begins or event.before[name] != event.after[name]
    ]


@cache
def _models() -> dict[str, Any]:
    return {model._meta.label_lower: model for model in apps.get_models()}


def _field(model: Any, name: str) -> Any:
    if model is None:
        return None
    try:
        return model._meta.get_field(name)
    except FieldDoesNotExist:
        return None


def _label(model: Any, name: str) -> str:
    if model is Disposal and name in LABELS:
        return str(LABELS[name])
    words = str(getattr(_field(model, name), "verbose_name", name)).replace("_", " ")
    return f"{words[:1].upper()}{words[1:]}"


def _words(model: Any, name: str, value: Any) -> str:
    """A value as events hold it, as a page says it. A list or a table is only counted."""
    field = _field(model, name)
    if value in (None, "", [], {}):
        return gettext("empty")
    if isinstance(value, bool):
        return gettext("yes") if value else gettext("no")
    if isinstance(value, list | dict):
        return gettext("%(count)d values") % {"count": len(value)}
    if getattr(field, "choices", None):
        return str(dict(field.flatchoices).get(value, value))
    if isinstance(field, models.ForeignKey):
        return gettext("record %(key)s") % {"key": value}
    if isinstance(value, str) and (name == "on" or name.endswith("_on")):
        return _day(value)
    if isinstance(field, models.DecimalField) or name.endswith("amount"):
        return _amount(name, value)
    return str(value)


def _day(value: str) -> str:
    try:
        return full_day(date.fromisoformat(value))
    except ValueError:
        return value


def _amount(name: str, value: Any) -> str:
    try:
        amount = Decimal(str(value))
    except InvalidOperation:
        return str(value)
    return dollars(amount) if name.endswith("amount") else f"{amount.normalize():f}"


def log_lines(entries: Entries) -> list[dict[str, Any]]:
    """A line for each entry, long texts shortened; what one that begins a record says is left to its page."""
    return [
        line | {"changes": [] if event.act in BEGINS else [short_words(change) for change in line["changes"]]}
        for event, line in zip(entries.events, _lines(entries), strict=True)
    ]


def _lines(entries: Entries) -> Iterator[dict[str, Any]]:
    for event in entries.events:
        yield {
            "number": event.number,
            "when": event.at,
            "who": event.actor.name if event.actor else "",
            "what": what(event),
            "detail": reason_of(event, entries.refs) or detail(event),
            "changes": values_changed(event, entries.refs),
            "asset_number": entries.numbers.get(event.thread, ""),
            "school": entries.schools.get(event.tenant or 0, ""),
            "happened_on": happened_on(event),
            "is_struck": event.number in entries.struck,
        }


def log_rows(some: Iterable[Entries]) -> Iterator[tuple[OutValue, ...]]:
    """The same as rows of a file, with the hash of each entry."""
    for entries in some:
        for event, line in zip(entries.events, _lines(entries), strict=True):
            at = localtime(event.at)
            changes = "; ".join(change.words for change in line["changes"])
            yield (
                event.number, at.date(), f"{at:%H:%M:%S}", line["happened_on"], line["who"], line["what"],
                line["detail"], changes, line["asset_number"], line["school"], line["is_struck"], event.request_id,
                event.hash,
            )  # fmt: skip


# Act -> the page where what it says is put right, the permission, and what the link says.
CORRECTED_AT: Mapping[str, tuple[str, str, Promise]] = {
    **dict.fromkeys(
        ("registered", "opening", "corrected", "text_redacted"),
        ("inventory:edit", "inventory.change_instrument", _("Correct the register")),
    ),
    **dict.fromkeys(
        ("gift_recorded", "gift_corrected"),
        ("inventory:donation", "inventory.change_donor", _("Correct the gift record")),
    ),
    "moved": ("inventory:whereabouts", "inventory.move_instrument", _("Say where it is")),
    "inspected": ("inventory:inspect", "inventory.inspect_instrument", _("Inspect it again")),
    "play_tested": ("inventory:play-test", "inventory.play_test_instrument", _("Play-test it again")),
    "accessories_counted": ("inventory:accessories", "inventory.inspect_instrument", _("Count the accessories again")),
    **dict.fromkeys(("tag_issued", "tag_revoked"), ("inventory:tags", "inventory.manage_tags", _("See its tags"))),
}


def correcting(event: Event, instrument: Instrument, *, may: Callable[[str], bool]) -> dict[str, str]:
    """Where this reader puts right what the event says: its own page, or the instrument's."""
    name, permission, label = CORRECTED_AT.get(event.act, ("", "", ""))
    if name and may(permission):
        return {"url": reverse(name, args=[instrument.asset_number]), "action": str(label)}
    return {"url": reverse("desk:instrument", args=[instrument.asset_number]), "action": gettext("Open the instrument")}
