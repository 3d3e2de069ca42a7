"""What families read, in their language (fixtures/families.yaml)."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from django.conf import settings
from django.utils import timezone, translation
from django.utils.formats import date_format

from loans.rules.terms import ENGLISH, SPANISH

LANGUAGES = (ENGLISH, SPANISH)


@cache
def _read() -> dict[str, Any]:
    content: dict[str, Any] = yaml.safe_load(
        (Path(settings.BASE_DIR) / "fixtures" / "families.yaml").read_text(encoding="utf-8")
    )
    return content


def words_in(language: str) -> Mapping[str, str]:
    """Return the words by key; in English for a language nobody has written them in."""
    found: Mapping[str, str] = _read()[language if language in LANGUAGES else ENGLISH]
    return found


def thing_in(language: str, name: str) -> str:
    """Return the name of a kind or an accessory as families say it, or as it is."""
    return str(_read()["things"].get(language, {}).get(name, name))


def day_in(language: str, day: date) -> str:
    with translation.override(language):
        return date_format(day, words_in(language)["day"])


def time_in(language: str, moment: datetime) -> str:
    with translation.override(language):
        return date_format(timezone.localtime(moment), words_in(language)["time"])
