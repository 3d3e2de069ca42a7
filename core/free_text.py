"""Columns that hold free text, so that a name can be removed from all of them. Each app registers its own."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import count
from typing import Any

from django.db import IntegrityError, models, transaction
from django.db.models import F, Q


@dataclass(frozen=True, slots=True)
class FreeText:
    """Free-text columns of a model (text, or JSON with text in it), and the lookups to a row's tenant and thread."""

    model: type[models.Model]
    columns: tuple[str, ...]
    tenant: str
    thread: str = ""  # "" for rows that belong to no thread
    is_short: bool = False  # a few short texts: single words of a name are looked for in every row, whatever its thread
    where: Q = field(default_factory=Q)  # the rows that are searched
    home: tuple[str, ...] = ()  # of versions of a text: their columns with model, key and column of the row it is in
    also: Mapping[str, Any] = field(default_factory=dict)  # what else is written into a row whose text is changed
    within: tuple[str, ...] = ()  # of JSON, the keys that hold what was typed; empty: all of it

    def typed_in(self, value: Any) -> Any:
        """Return the part of a column's value that was typed."""
        if not self.within or not isinstance(value, dict):
            return value
        return {key: value[key] for key in self.within if value.get(key)}


@dataclass(frozen=True, slots=True)
class Typed:
    """One text that someone typed. ``home`` is the key of the text that it is, or was, a version of."""

    model: type[models.Model]
    pk: int
    column: str
    value: Any  # str, or JSON
    thread: int | None
    is_short: bool = False
    version_of: str = ""

    @property
    def key(self) -> str:
        """Identify the text on a page, such as "inventory.finding:12:note"."""
        return f"{self.model._meta.label_lower}:{self.pk}:{self.column}"

    @property
    def home(self) -> str:
        return self.version_of or self.key

    @property
    def same(self) -> tuple[str, str]:
        """Identify the text wherever it stands: its versions in revisions are the same text."""
        return self.home, self.text

    @property
    def text(self) -> str:
        return "; ".join(strings_in(self.value))


MOST = 1000  # rows that come to say the same

_ENTRIES: list[FreeText] = []


def register(entries: Iterable[FreeText]) -> None:
    """Add an app's columns; a model that is already registered is skipped."""
    known = {entry.model for entry in _ENTRIES}
    _ENTRIES.extend(entry for entry in entries if entry.model not in known)


def registered() -> tuple[FreeText, ...]:
    return tuple(_ENTRIES)


def strings_in(value: Any) -> Iterator[str]:
    """Yield every string in a JSON value except keys."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from strings_in(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from strings_in(inner)


def changed(value: Any, change: Callable[[str], str]) -> Any:
    """Return the JSON value with every string in it changed except keys."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {key: changed(inner, change) for key, inner in value.items()}
    if isinstance(value, list):
        return [changed(inner, change) for inner in value]
    return value


def typed_texts(*, tenant: int, threads: Collection[int] = ()) -> Iterator[Typed]:
    """Yield every non-empty text in the tenant's rows, and in these threads whatever tenant they belong to now."""
    for entry in _ENTRIES:
        owned = Q(**{entry.tenant: tenant})
        if entry.thread and threads:
            owned |= Q(**{f"{entry.thread}__in": threads})
        filled = Q()
        for column in entry.columns:
            filled |= ~Q(**{column: ""}) if _is_text(entry.model, column) else Q(**{f"{column}__isnull": False})
        thread = F(entry.thread) if entry.thread else models.Value(None, output_field=models.BigIntegerField())
        rows = _plain(entry.model).filter(entry.where, owned & filled).annotate(_thread=thread).order_by("pk")
        for pk, thread_id, *values in rows.values_list("pk", "_thread", *entry.columns, *entry.home).iterator():
            home = ":".join(values[len(entry.columns) :])
            for column, held in zip(entry.columns, values, strict=False):
                if value := entry.typed_in(held):
                    yield Typed(entry.model, pk, column, value, thread_id, entry.is_short, version_of=home)


def rewrite(typed: Typed, change: Callable[[str], str]) -> bool:
    """Change one text in its row and return whether it changed. A result that is too long is cut.

    One that another row has already, where each may be there once, gets a number.
    """
    value = changed(typed.value, change)
    if value == typed.value:
        return False
    if isinstance(value, dict):  # the rest of it stays as it is
        value = _plain(typed.model).values_list(typed.column, flat=True).get(pk=typed.pk) | value
    longest = getattr(typed.model._meta.get_field(typed.column), "max_length", None)
    also = {name: given for one in _ENTRIES if one.model is typed.model for name, given in one.also.items()}
    row = _plain(typed.model).filter(pk=typed.pk)
    for number in count(1):
        ending = f" {number}" if number > 1 else ""
        fits = value[: longest - len(ending)] + ending if longest and isinstance(value, str) else value
        try:
            with transaction.atomic():
                row.update(**{typed.column: fits}, **also)
        except IntegrityError:
            if not isinstance(value, str) or number == MOST:
                raise
        else:
            break
    return True


def _plain(model: type[models.Model]) -> models.QuerySet[Any]:
    """Return a queryset that may update append-only rows too: only their remarks are redacted."""
    return models.QuerySet(model=model)


def _is_text(model: type[models.Model], column: str) -> bool:
    return isinstance(model._meta.get_field(column), models.CharField | models.TextField)
