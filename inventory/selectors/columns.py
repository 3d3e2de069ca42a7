"""The declared columns of an instrument in words: on its page and in the export."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime
from operator import attrgetter
from typing import Any

from django.utils.timezone import localdate
from django.utils.translation import gettext

from core.days import full_day
from core.sheets import OutValue
from inventory.access import has_perm_at_school
from inventory.catalog.load import catalog
from inventory.catalog.load.language import choice_word
from inventory.columns import COLUMNS, VIEW, Column
from inventory.models import Instrument, InstrumentQuerySet, Room, School, schools_of
from inventory.rules.readiness import AT_HAND
from inventory.selectors.fleet import readiness_on
from inventory.selectors.prices import replacement_amount
from inventory.selectors.state import state_words_of

EXPORTED_AT_ONCE = 1000
PRICE_BASIS = "Replacement cost basis"


def columns_for(user: Any, *, school: int | None = None) -> tuple[Column, ...]:
    """The columns that somebody may see of instruments at this school; without one, at every school they look at."""

    def may_see(permission: str) -> bool:
        if school is not None:
            return has_perm_at_school(user, permission, school)
        return set(schools_of(user)) <= set(schools_of(user, permission))

    granted = {column.permission for column in COLUMNS if column.permission == VIEW or may_see(column.permission)}
    return tuple(column for column in COLUMNS if column.permission in granted)


def facts_of(instrument: Instrument, *, user: Any) -> list[tuple[str, str]]:
    """Label and words of what is written about it, as far as the user may see it; nothing of donors."""
    facts: dict[str, list[str]] = {}
    for column in columns_for(user, school=instrument.school_id):
        label = column.label if column.fact is None else column.fact
        if label and column.name == "options":
            names = {option.code: option.name for option in instrument.kind.options}
            facts |= {
                names[code]: [choice_word(code, str(choice))]
                for code, choice in instrument.options.items()
                if code in names
            }
        elif label:
            facts.setdefault(gettext(label), []).append(words_of(instrument, column))
    return [(label, text) for label, words in facts.items() if (text := " ".join(filter(None, words)))]


def words_of(instrument: Instrument, column: Column) -> str:
    """The value as a page shows it."""
    display = getattr(instrument, f"get_{column.name}_display", None)
    value = display() if display else getattr(instrument, column.name)
    if value in (None, ""):
        return gettext(column.empty) if column.empty else ""
    if isinstance(value, datetime):
        value = localdate(value)
    return full_day(value) if isinstance(value, date) else str(value)


def export_header(columns: Sequence[Column]) -> tuple[str, ...]:
    """The labels of the columns, in English, as an import knows them; beside the replacement cost, whose figure it is."""
    return tuple(label for column in columns if column.is_exported for label in (column.label, *_beside(column)))


def _beside(column: Column) -> tuple[str, ...]:
    return (PRICE_BASIS,) if column.name == "replacement_amount" else ()


def export_rows(rows: InstrumentQuerySet, *, columns: Sequence[Column], today: date) -> Iterator[tuple[OutValue, ...]]:
    """The instruments with these columns, by number; people are in none of them: no student, no donor.

    Some rows at a time, each time from the number after the last: nothing waits in memory or keeps a transaction open
    while somebody's slow line takes the file.
    """
    values = [
        value for column in columns if column.is_exported for value in (exported(column), *_exported_beside(column))
    ]
    found: Any = rows.annotate(readiness_today=readiness_on(today)).order_by("asset_number")
    last = ""
    while some := list(found.filter(asset_number__gt=last)[:EXPORTED_AT_ONCE]):
        words = state_words_of(some)
        for row in some:
            row.words = words[row.pk]
        yield from (tuple(value(row) for value in values) for row in some)
        last = some[-1].asset_number


def _exported_beside(column: Column) -> list[Callable[[Any], OutValue]]:
    own, kinds = price_basis(is_kind_price=False), price_basis(is_kind_price=True)
    return [lambda row: kinds if row.replacement_amount is None else own for _label in _beside(column)]


def price_basis(*, is_kind_price: bool) -> str:
    """Return where a replacement cost comes from."""
    return gettext("midpoint of the kind's price range") if is_kind_price else gettext("as entered")


def _options_words(row: Instrument, labels: Mapping[str, str]) -> str:
    """Options as the form says them; one that the catalog has lost by its code."""
    return "; ".join(
        f"{labels.get(code, code.replace('_', ' '))}: {choice_word(code, choice)}"
        for code, choice in row.options.items()
    )


def exported(column: Column) -> Callable[[Any], OutValue]:
    """How the export takes a column's value from a row."""
    # Schools, rooms and words are looked up here: a row object for each, twenty thousand times, is most of the work.
    match column.name:
        case "kind_code":
            trade = catalog()
            return lambda row: trade.kind(row.kind_code).name
        case "options":
            labels = {kind.code: {one.code: one.name for one in kind.options} for kind in catalog().kinds.values()}
            return lambda row: _options_words(row, labels.get(row.kind_code, {}))
        case "replacement_amount":
            return replacement_amount
        case "school" | "room":
            model: Any = School if column.name == "school" else Room
            names, key = dict(model.objects.values_list("pk", "name")), f"{column.name}_id"
            return lambda row: names.get(getattr(row, key), "")
        case "limits":
            return lambda row: " ".join(row.words.limits)
        case "readiness_reasons":
            return lambda row: " ".join(reason["text"] for reason in row.words.reasons)
        case "inspected_at" | "seen_at":
            moment = attrgetter(column.name)
            return lambda row: localdate(at) if (at := moment(row)) else None
    stored: Any = Instrument._meta.get_field(column.name)
    value = attrgetter("readiness_today" if column.name == "readiness" else column.name)
    if not stored.choices:
        return value
    words = {code: str(label) for code, label in stored.choices}
    if column.name == "readiness":
        return lambda row: words[value(row)] if row.whereabouts in AT_HAND else ""
    return lambda row: words[value(row)]
