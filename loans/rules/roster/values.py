"""What a cell of a roster may hold. Names and words of the standard are told apart by capital letters."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import date, datetime
from functools import lru_cache
from typing import Final

from core.translation import gettext as _
from loans.rules.roster.problems import quoted
from loans.rules.roster.standard import Column

LONGEST_ID: Final = 255
LONGEST_TEXT: Final = 2_000

_ID = re.compile(r"[0-9a-zA-Z.\-_/@]{1,255}")
_ID_OR_BLANK = re.compile(r"(?:[0-9a-zA-Z.\-_/@]{1,255})?")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_MOMENT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2})(\.[0-9]+)?Z")
_YEAR = re.compile(r"[0-9]{4}")


def fault(column: Column, text: str, *, is_delta: bool) -> str:
    """Return what is wrong with the cell, or ""."""
    if not text:
        if column.is_required:
            return _("This must not be blank.")
        if is_delta and column.is_required_in_delta:
            return _("This must not be blank in a file of changes (delta).")
        return ""
    for part in items(column, text):
        if reason := _part_fault(column, part):
            return reason
    return ""


def passes(column: Column, *, is_delta: bool) -> Callable[[str], object]:
    """Return a quick test that nearly every good cell passes; ``fault`` looks closely at what does not."""
    may_be_blank = not column.is_required and not (is_delta and column.is_required_in_delta)
    if column.words and not column.is_list:
        return {*column.words, *([""] if may_be_blank else [])}.__contains__
    if column.kind == "text":
        return _anything if may_be_blank else bool
    if may_be_blank:
        return _ID_OR_BLANK.fullmatch if column.points_to and not column.is_list else _is_blank
    return _ID.fullmatch if column.kind == "id" or column.points_to else _nothing


def _anything(_text: str) -> bool:
    return True


def _nothing(_text: str) -> bool:
    return False


def _is_blank(text: str) -> bool:
    return not text


def items(column: Column, text: str) -> Iterator[str]:
    """Yield what the cell holds: one text, or each of its list."""
    if column.is_list:
        yield from text.split(",") if text else ()
    elif text:
        yield text


def _part_fault(column: Column, text: str) -> str:
    if column.words:
        return "" if text in column.words else _unknown_word(column.words, text)
    if column.points_to:
        return _id_fault(text)
    return _FAULTS[column.kind](text)


def _unknown_word(words: tuple[str, ...], text: str) -> str:
    meant = next((word for word in words if word.casefold() == text.strip().casefold()), "")
    if meant:
        return _("“%(text)s” must be written “%(word)s”.", text=quoted(text), word=meant)
    return _("“%(text)s” is not one of: %(words)s.", text=quoted(text), words=", ".join(words))


def _id_fault(text: str) -> str:
    if _ID.fullmatch(text):
        return ""
    if len(text) > LONGEST_ID:
        return _("A sourcedId has at most 255 characters; this has %(count)d.", count=len(text))
    if not text.strip():
        return _("The list has an empty place.")
    return _(
        "“%(text)s” is not a sourcedId: it may contain only letters, digits and the signs . - _ / @.", text=quoted(text)
    )


@lru_cache(maxsize=4096)
def _date_fault(text: str) -> str:
    if _DATE.fullmatch(text):
        try:
            date.fromisoformat(text)
        except ValueError:
            return _("There is no date %(text)s.", text=text)
        return ""
    return _("“%(text)s” is not a date of the form 2026-08-31.", text=quoted(text))


@lru_cache(maxsize=4096)
def _moment_fault(text: str) -> str:
    if found := _MOMENT.fullmatch(text):
        try:
            datetime.fromisoformat(found[1])
        except ValueError:
            return _("There is no date and time %(text)s.", text=quoted(text))
        return ""
    return _("“%(text)s” is not a date and time of the form 2026-08-31T14:05:00.000Z.", text=quoted(text))


def _year_fault(text: str) -> str:
    return "" if _YEAR.fullmatch(text) else _("“%(text)s” is not a four-digit year.", text=quoted(text))


def _text_fault(text: str) -> str:
    if len(text) <= LONGEST_TEXT:
        return ""
    return _("The text is longer than %(most)s characters.", most=f"{LONGEST_TEXT:,}")


_FAULTS: dict[str, Callable[[str], str]] = {
    "id": _id_fault,
    "text": _text_fault,
    "date": _date_fault,
    "moment": _moment_fault,
    "year": _year_fault,
}
