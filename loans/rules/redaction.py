"""Removes a person's name from free text. Our own rules; with free text, nothing is ever certain."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

REDACTED = "[erased]"
SHORTEST_PHONE = 7  # digits
BETWEEN = r"[\s,._-]+"
EMAIL = re.compile(r"[^\s@,;<>]+@[^\s@,;<>]+")
PHONE = re.compile(r"\+?\d(?:[\s().+/-]*\d)+")


@dataclass(frozen=True, slots=True)
class Redaction:
    """What to look for: ``certain`` always means the person, ``possible`` may be any word ("Reed", "Bell", "Rose")."""

    certain: re.Pattern[str] | None
    possible: re.Pattern[str] | None

    def redact(self, text: str, *, with_possible: bool = False) -> str:
        """Return the text without the names; a text without any is returned unchanged."""
        plain = found = unicodedata.normalize("NFC", text)
        for pattern in (self.certain, self.possible if with_possible else None):
            if pattern is not None:
                found = pattern.sub(REDACTED, found)
        return text if found == plain else found

    def is_named_in(self, text: str) -> bool:
        """Whether the text certainly names the person."""
        return self.redact(text) != text

    def may_be_named_in(self, text: str) -> bool:
        """Whether a word that may be part of the name is left after the certain matches are removed."""
        rest = unicodedata.normalize("NFC", self.redact(text).replace(REDACTED, " "))
        return self.possible is not None and self.possible.search(rest) is not None


def redaction_for(*, names: Iterable[str], contacts: Iterable[str] = (), nicknames: Iterable[str] = ()) -> Redaction:
    """Build the patterns: full names, email addresses and phone numbers are certain, single words of names possible.

    A full name is found in either order, with a comma, or with an initial: "Rosa Lindqvist" as "rosa lindqvist",
    "Lindqvist, Rosa" and "R. Lindqvist". Nicknames are possible.
    """
    split = [_words(name) for name in names]
    certain = [pattern for words in split if len(words) > 1 for pattern in _full_names(words)]
    certain += [pattern for contact in contacts for pattern in _contact_patterns(contact)]
    possible = [word for words in (*split, *map(_words, nicknames)) for word in words]
    return Redaction(certain=_any_of(certain), possible=_any_of(re.escape(word) for word in possible if len(word) > 1))


def _words(name: str) -> list[str]:
    return re.findall(r"[^\s,.]+", unicodedata.normalize("NFC", name))


def _full_names(words: list[str]) -> Iterator[str]:
    first, *middle, last = (re.escape(word) for word in words)
    between = "".join(f"(?:{word}{BETWEEN})?" for word in middle)
    yield f"{first}{BETWEEN}{between}{last}"
    yield f"{last}{BETWEEN}{first}" + "".join(f"(?:{BETWEEN}{word})?" for word in middle)
    yield f"{re.escape(words[0][0])}\\.\\s*{last}"  # only with the period: "a bell" is not Ana Bell
    yield f"{first}\\s+{re.escape(words[-1][0])}\\."


def _contact_patterns(contact: str) -> Iterator[str]:
    text = unicodedata.normalize("NFC", contact)
    yield from (re.escape(email) for email in EMAIL.findall(text))
    for phone in PHONE.findall(EMAIL.sub(" ", text)):
        digits = re.sub(r"\D", "", phone)
        if len(digits) >= SHORTEST_PHONE:
            yield r"\+?" + r"[\s().+/-]*".join(digits)


def _any_of(patterns: Iterable[str]) -> re.Pattern[str] | None:
    # Longest first, so that "Ana Maria Ruiz" is not redacted as "Ana Maria", leaving the rest.
    chosen = sorted(dict.fromkeys(patterns), key=len, reverse=True)
    # A name that ends in a period ("Rosa L.") needs no word boundary after it.
    return re.compile(rf"(?<!\w)(?:{'|'.join(chosen)})(?!\w)", re.IGNORECASE) if chosen else None
