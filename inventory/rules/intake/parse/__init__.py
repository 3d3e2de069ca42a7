"""What the cells of an inventory list say, in the forms that people really write."""

from inventory.rules.intake.parse.dates import parse_date, parse_year
from inventory.rules.intake.parse.money import parse_money, parse_share
from inventory.rules.intake.parse.reading import Reading, UnreadableError, cell_text, is_nothing, is_sign_for_nothing
from inventory.rules.intake.parse.words import (
    FindKind,
    name_key,
    number_key,
    parse_accessories,
    parse_acquired_by,
    parse_key,
    parse_kind,
    parse_level,
    parse_serial,
    parse_size,
    parse_valves,
)

__all__ = [
    "FindKind",
    "Reading",
    "UnreadableError",
    "cell_text",
    "is_nothing",
    "is_sign_for_nothing",
    "name_key",
    "number_key",
    "parse_accessories",
    "parse_acquired_by",
    "parse_date",
    "parse_key",
    "parse_kind",
    "parse_level",
    "parse_money",
    "parse_serial",
    "parse_share",
    "parse_size",
    "parse_valves",
    "parse_year",
]
