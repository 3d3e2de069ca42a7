"""A language that nobody speaks: every message in English, accented and a third longer, to see which pages burst.

What Spanish needs in some places, this needs in all, so that a page holds for translations that are still to come.
"""

from __future__ import annotations

import math
import re
from pathlib import Path

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

ROOT = Path(__file__).resolve().parent.parent
LONGER = 1.35  # published guides to translation ask for 30 to 40 % of room, and more for single words
ACCENTS = str.maketrans("aeiounAEIOUN", "áéíóúñÁÉÍÓÚÑ")
VOWELS = frozenset("aeiouAEIOU")
# What is filled in, and what is no words: %(name)s, {name}, tags and entities.
KEPT = re.compile(r"(%\(\w+\)[#0 +.\d-]*[a-zA-Z]|%[%a-z]|\{[^{}]*\}|<[^<>]+>|&#?\w+;)")
# "M j, Y, g:i a" says how a date is written: its letters are no words.
FORMAT = re.compile(r"(?:[A-Za-z]|[jFMYyNDlPAag]:?i)(?:[ ,.:]+(?:[A-Za-z]|g:i))*")


def pseudo(text: str) -> str:
    """Return the words accented and longer; what is filled in, and how dates are written, as it is."""
    if FORMAT.fullmatch(text):
        return text
    return "".join(piece if number % 2 else _longer(piece) for number, piece in enumerate(KEPT.split(text)))


def _longer(words: str) -> str:
    """Draw the vowels out, from the first on, until the words are as long as they should be."""
    missing = math.ceil(len(words.strip()) * (LONGER - 1))
    each = math.ceil(missing / max(1, sum(letter in VOWELS for letter in words)))
    said = []
    for letter in words:
        more = min(each, missing) if letter in VOWELS else 0
        said.append(letter.translate(ACCENTS) + letter.lower() * more)
        missing -= more
    return "".join(said)


def write_pseudo(folder: Path) -> Path:
    """Write the compiled messages of both domains, in place of Spanish, and return their folder."""
    target = folder / "es" / "LC_MESSAGES"
    target.mkdir(parents=True)
    for domain in ("django", "catalog"):
        with (ROOT / "locale" / "es" / "LC_MESSAGES" / f"{domain}.po").open("rb") as file:
            messages = read_po(file, locale="es")
        for message in messages:
            if message.id:
                plural = isinstance(message.id, tuple)
                message.string = tuple(map(pseudo, message.id)) if plural else pseudo(message.id)
        with (target / f"{domain}.mo").open("wb") as file:
            write_mo(file, messages)
    return folder
