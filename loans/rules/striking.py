"""Taking the name of a person out of a sentence that somebody typed. Our own rules; nothing is ever sure with free words."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

STRUCK = "[erased]"
SHORTEST_PHONE = 7  # digits
BETWEEN = r"[\s,._-]+"
MAIL = re.compile(r"[^\s@,;<>]+@[^\s@,;<>]+")
PHONE = re.compile(r"\+?\d(?:[\s().+/-]*\d)+")


@dataclass(frozen=True, slots=True)
class Striking:
    """What to look for: ``sure`` is a person beyond doubt, ``unsure`` may be any word ("Reed", "Bell", "Rose")."""

    sure: re.Pattern[str] | None
    unsure: re.Pattern[str] | None

    def strike(self, text: str, *, also_unsure: bool = False) -> str:
        """The text without the names; a text without any comes back as it was."""
        plain = unicodedata.normalize("NFC", text)
        found = plain
        for pattern in (self.sure, self.unsure if also_unsure else None):
            if pattern is not None:
                found = pattern.sub(STRUCK, found)
        return text if found == plain else found

    def is_sure_of(self, text: str) -> bool:
        return self.strike(text) != text

    def may_be_meant(self, text: str) -> bool:
        """Whether a word is left that may be a part of the name."""
        rest = self.strike(text).replace(STRUCK, " ")
        return self.unsure is not None and self.unsure.search(unicodedata.normalize("NFC", rest)) is not None


def striking(*, names: Iterable[str], contacts: Iterable[str] = (), nicknames: Iterable[str] = ()) -> Striking:
    """Make the patterns for full names, mail addresses and phone numbers; words of the names alone are unsure.

    A full name is found in either order, with a comma, or with the first name as an initial; "Rosa Lindqvist" as "rosa
    lindqvist", "Lindqvist, Rosa" and "R. Lindqvist". Nicknames are unsure as well.
    """
    sure: list[str] = []
    words: list[str] = []
    for name in names:
        parts = _words(name)
        words += parts
        if len(parts) > 1:
            sure += _full(parts)
    for nickname in nicknames:
        words += _words(nickname)
    for contact in contacts:
        sure += _reachable(contact)
    # The longest first, so that "Ana Maria Ruiz" is not struck as "Ana Maria" with a rest.
    return Striking(sure=_any(sure), unsure=_any(re.escape(word) for word in words if len(word) > 1))


def _words(name: str) -> list[str]:
    return re.findall(r"[^\s,.]+", unicodedata.normalize("NFC", name))


def _full(parts: list[str]) -> Iterator[str]:
    first, *middle, last = (re.escape(part) for part in parts)
    between = "".join(f"(?:{part}{BETWEEN})?" for part in middle)
    yield f"{first}{BETWEEN}{between}{last}"
    yield f"{last}{BETWEEN}{first}" + "".join(f"(?:{BETWEEN}{part})?" for part in middle)
    yield f"{re.escape(parts[0][0])}\\.\\s*{last}"  # never without the stop: "a bell" is no Ana Bell
    yield f"{first}\\s+{re.escape(parts[-1][0])}\\."


def _reachable(contact: str) -> Iterator[str]:
    text = unicodedata.normalize("NFC", contact)
    yield from (re.escape(mail) for mail in MAIL.findall(text))
    for phone in PHONE.findall(MAIL.sub(" ", text)):
        digits = re.sub(r"\D", "", phone)
        if len(digits) >= SHORTEST_PHONE:
            yield r"\+?" + r"[\s().+/-]*".join(digits)


def _any(patterns: Iterable[str]) -> re.Pattern[str] | None:
    chosen = sorted(dict.fromkeys(patterns), key=len, reverse=True)
    if not chosen:
        return None
    # A name that ends in a stop ("Rosa L.") is not followed by a word anyway.
    return re.compile(rf"(?<!\w)(?:{'|'.join(chosen)})(?!\w)", re.IGNORECASE)
