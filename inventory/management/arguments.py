"""Numbers of a command line or a file, read exactly: never by way of a float. What cannot be read ends with status 2."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import CommandError

USAGE = 2  # exit status for what cannot be understood
_DECIMAL = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_WHOLE = re.compile(r"[0-9]{1,12}")
_MOST_CHARACTERS, _MOST_PLACES, _MOST_DIGITS = 60, 30, 15


def refuse(reason: str) -> NoReturn:
    """End the command with one sentence and status 2."""
    raise CommandError(reason, returncode=USAGE)


def read_json(path: Path, **numbers: Callable[[str], Any]) -> Any:
    """Return what a JSON file holds; ``numbers`` as json.loads takes them."""
    try:
        return json.loads(path.read_text(encoding="utf-8-sig"), **numbers)  # type: ignore[arg-type]
    except OSError as error:
        refuse(f"{path} cannot be read: {error.strerror}")
    except (ValueError, RecursionError) as error:
        refuse(f"{path} is not JSON: {error}")


def read_decimal(text: str, *, name: str) -> Decimal:
    """Return a number as it was written, digit by digit: up to 15 digits before the point and 30 after it."""
    if len(text) > _MOST_CHARACTERS or not _DECIMAL.fullmatch(text):
        refuse(f"{name} must be a number such as 0.05, not {_shown(text)}")
    number = Decimal(text)
    places = -int(number.as_tuple().exponent)
    if number.adjusted() >= _MOST_DIGITS or places > _MOST_PLACES:
        refuse(f"{name} must have at most {_MOST_DIGITS} digits before the point and {_MOST_PLACES} after it")
    return number


def read_whole(text: str, *, name: str) -> int:
    """Return a whole number from 0 up, of at most 12 digits."""
    if not _WHOLE.fullmatch(text):
        refuse(f"{name} must be a whole number from 0 up, not {_shown(text)}")
    return int(text)


def _shown(text: str) -> str:
    return repr(text if len(text) <= _MOST_CHARACTERS else f"{text[:_MOST_CHARACTERS]}…")
