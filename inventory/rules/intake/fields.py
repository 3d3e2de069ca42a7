"""What a column of somebody's inventory list may hold, and the words people write above it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from enum import StrEnum
from typing import Final

from inventory.columns import IN_LISTS


class IntakeField(StrEnum):
    """What one column is about. The last four are recognized, but no value of the instrument."""

    ASSET_NUMBER = "asset_number"
    KIND = "kind"
    LEVEL = "level"
    MAKER = "maker"
    MODEL = "model"
    SERIAL = "serial"
    YEAR_MADE = "year_made"
    SIZE = "size"
    VALVES = "valves"
    KEY = "key"
    ACQUIRED_BY = "acquired_by"
    ACQUIRED_ON = "acquired_on"
    COST = "cost"
    FUNDING_SOURCE = "funding_source"
    AWARD_NUMBER = "award_number"
    FEDERAL_SHARE = "federal_share"
    TITLE_HOLDER = "title_holder"
    DONOR = "donor"
    SCHOOL = "school"
    ROOM = "room"
    CONDITION = "condition"
    ACCESSORIES = "accessories"
    NOTES = "notes"
    WHEREABOUTS = "whereabouts"
    STUDENT = "student"
    VALUE = "value"
    QUANTITY = "quantity"

    @property
    def label(self) -> str:
        return self.value.replace("_", " ").capitalize()


MANY_COLUMNS: Final = frozenset(IntakeField(key) for key, column in IN_LISTS.items() if column.several)
STAYS_OUT: Final = {IntakeField(key): column.stays_out for key, column in IN_LISTS.items() if column.stays_out}

# Columns that our own sheet of problem rows adds; they are not data when it comes back.
ROW_COLUMN: Final = "Row"
PROBLEM_COLUMN: Final = "Problem"
MARK_COLUMN: Final = "Row mark"
OWN_COLUMNS: Final = (ROW_COLUMN, PROBLEM_COLUMN, MARK_COLUMN)

_SIGNS: Final = (("#", " number "), ("№", " number "), ("$", " dollars "), ("%", " percent "), ("&", " and "))
_NUMBER_WORDS: Final = re.compile(r"\b(?:no|num|nbr|nr|numbers)\b")


def normal_heading(text: str) -> str:
    """Return the heading as it is compared: lower case, no accents or points, "#" and "no." as "number"."""
    for sign, word in _SIGNS:
        text = text.replace(sign, word)
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    plain = " ".join(re.sub(r"[^a-z0-9]+", " ", plain).split())
    plain = _NUMBER_WORDS.sub("number", plain)
    return re.sub(r"\bnumber(?: number)+\b", "number", plain)


BY_HEADING: Final[dict[str, IntakeField]] = {
    normal_heading(words): IntakeField(key)
    for key, column in IN_LISTS.items()
    for words in (column.label, *filter(None, column.headings.split(", ")))
}


def is_heading(text: str) -> bool:
    """Say whether the text is a heading that an inventory list would have."""
    return normal_heading(text) in BY_HEADING or text in OWN_COLUMNS


def own_columns(header: Sequence[str]) -> frozenset[int]:
    """Return where our own list of problem rows added its columns; somebody's own "Problem" column is not among them.

    They stand last and in a row; the mark may have been deleted.
    """
    names = list(header)
    added: set[int] = {index for index, name in enumerate(names) if name == MARK_COLUMN}
    for index in range(len(names) - 1, 0, -1):
        if (names[index - 1], names[index]) == (ROW_COLUMN, PROBLEM_COLUMN):
            added |= {index - 1, index}
            break
    return frozenset(added)
