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

from inventory.rules.notes import signed, unsigned
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
    """Return the name of a kind, an accessory, a part, a place or a fault as families say it, or as it is."""
    return said_in(language, name) or signed(name)


def phrases_in(language: str) -> Mapping[str, str]:
    """Return the phrases of what limits an instrument, by what they are in English."""
    found: Mapping[str, str] = _read()["phrases"].get(language, {})
    return found


def said_in(language: str, name: str) -> str:
    """Return the name of a thing as families say it, or ""."""
    things, name = _read()["things"].get(language, {}), unsigned(name)
    if name in things:
        return str(things[name])
    note, _, rest = name.partition(" ")  # "Bb3 bar": of each note there is one, all called alike
    form = things.get(f"{{note}} {rest}", "")
    return str(form).format(note=note_in(language, note))


def note_in(language: str, note: str) -> str:
    """Return a note ("Bb3") as families say it: "si bemol 3"."""
    notes = _read()["notes"].get(language, {})
    return "".join(notes.get(letter, f" {letter}") for letter in note)


def where_in(language: str, where: str) -> str:
    """Return where a finding is, a part with its place if it has one, as families say it: "Pistones, válvula 2"."""
    cuts = [len(where), *(at for at in reversed(range(len(where))) if where.startswith(", ", at))]
    for cut in cuts:  # names of parts have commas too: the longest one that is known
        part, place = where[:cut], where[cut + 2 :]
        said = said_in(language, part) or said_in(language, part[:1].lower() + part[1:])
        if said:
            said = f"{said}, {thing_in(language, place)}" if place else said
            return said[:1].upper() + said[1:]
    return signed(where)


def finding_in(language: str, line: str) -> str:
    """Return a finding, kept as English says it ("Pistons, valve 2: worn valve guide, light"), as families say it."""
    if language == ENGLISH:
        return signed(line)
    where, _, found = line.rpartition(": ")  # names of parts have colons too
    fault, _, severity = found.rpartition(", ")
    return f"{where_in(language, where)}: {thing_in(language, fault)}, {words_in(language).get(severity, severity)}"


def day_in(language: str, day: date) -> str:
    with translation.override(language):
        return date_format(day, words_in(language)["day"])


def time_in(language: str, moment: datetime) -> str:
    with translation.override(language):
        return date_format(timezone.localtime(moment), words_in(language)["time"])
