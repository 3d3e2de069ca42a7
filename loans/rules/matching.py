"""Whom a list means by a name: the students of the school whose name it is, and those whose name is like it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import NamedTuple

from core.accents import without_accents

LIKE = 0.85  # how alike two names are to be asked about, by the share of letters in the same order; common practice

TITLES = frozenset({"mr", "mrs", "ms", "miss", "mx", "dr", "prof", "professor", "coach", "sr", "sra", "srta"})
ADULT_GRADES = frozenset(
    {"staff", "teacher", "faculty", "adult", "director", "coach", "employee", "maestro", "maestra"}
)


class Known(NamedTuple):
    """A student of the school."""

    pk: int
    name: str
    grade: str


@dataclass(frozen=True, slots=True)
class Match:
    """``exact`` have the name, ``like`` a name that is nearly it; one exact needs no asking."""

    exact: tuple[int, ...] = ()
    like: tuple[int, ...] = ()

    @property
    def is_asked(self) -> bool:
        return len(self.exact) > 1 or (not self.exact and bool(self.like))


def given_first(name: str) -> str:
    """Return the name with the given name first: "Rivera, Ana" is "Ana Rivera"."""
    family, comma, given = name.partition(",")
    return (
        " ".join(f"{given} {family}".split()) if comma and given.strip() else " ".join(name.replace(",", " ").split())
    )


def person_key(name: str) -> str:
    """Return the name as it is compared: given name first, no case, accents or points."""
    plain = without_accents(given_first(name))
    return " ".join(re.sub(r"[^\w]+", " ", plain.replace("'", "").replace("’", "")).split())


def tidy_name(name: str) -> str:
    """Return the name as it is kept: given name first, and in small letters where all of it was in capitals."""
    plain = given_first(name)
    if not (plain.isupper() or plain.islower()):
        return plain
    return re.sub(r"[^\W\d_]+(?:[’'][^\W\d_]+)*", lambda word: word[0][:1].upper() + word[0][1:].lower(), plain)


def is_adult(name: str, *, grade: str) -> bool:
    """Whether a list means one of the staff: by a title before the name, or by a word where the grade stands.

    A guess, to be asked about: titles and words are common practice, no source.
    """
    title, *rest = person_key(name).split() or [""]
    return person_key(grade) in ADULT_GRADES or (title in TITLES and bool(rest))


class KnownNames:
    """The students of a school, read once, to be compared with many names."""

    def __init__(self, known: Iterable[Known]) -> None:
        self._known = list(known)
        self._bits: dict[tuple[str, int], int] = {}  # the letter and which of its kind -> its bit
        self._keys = [person_key(one.name) for one in self._known]
        self._letters = [self._mask(key) for key in self._keys]
        self._by_words: dict[str, list[int]] = {}
        self._by_family: dict[tuple[str, str], list[int]] = {}
        for place, key in enumerate(self._keys):
            self._by_words.setdefault(_words(key), []).append(place)
            self._by_family.setdefault(_family(key), []).append(place)

    def match(self, name: str, *, grade: str) -> Match:
        """Return whom the name means. Of several with the name, those of the grade alone count, where any is."""
        key = person_key(name)
        places = self._by_words.get(_words(key), [])
        exact = [self._known[place] for place in places]
        of_grade = [one for one in exact if grade and one.grade == grade]
        like = [place for place in self._like(key) if place not in places]
        return Match(tuple(one.pk for one in of_grade or exact), tuple(self._known[place].pk for place in like))

    def _like(self, key: str) -> Iterator[int]:
        letters, length = self._mask(key), len(key)
        initials = {place for place in self._by_family.get(_family(key), ()) if _is_initial(key, self._keys[place])}
        for place, other in enumerate(self._keys):
            # No more letters can stand in the same order than the two have in common.
            common = (letters & self._letters[place]).bit_count()
            if place in initials or (2 * common >= LIKE * (length + len(other)) and _is_like(key, other)):
                yield place

    def _mask(self, key: str) -> int:
        """Return the letters as bits, the second of a kind as another bit than the first."""
        seen: dict[str, int] = {}
        mask = 0
        for letter in key:
            seen[letter] = seen.get(letter, 0) + 1
            mask |= 1 << self._bits.setdefault((letter, seen[letter]), len(self._bits))
        return mask


def match_person(name: str, *, grade: str, known: Iterable[Known]) -> Match:
    """Return whom one name means, as ``KnownNames.match`` does."""
    return KnownNames(known).match(name, grade=grade)


def _words(key: str) -> str:
    return " ".join(sorted(key.split()))


def _family(key: str) -> tuple[str, str]:
    """Return the last word and the first letter of the first; what has none is like nobody."""
    words = key.split()
    return (words[-1], key[0]) if words else ("", "")


def _is_initial(key: str, other: str) -> bool:
    """Whether one of two of a family has the other's given name by its first letter alone."""
    return key != "" and 1 in {len(key.split(maxsplit=1)[0]), len(other.split(maxsplit=1)[0])}


def _is_like(key: str, other: str) -> bool:
    return key != "" and SequenceMatcher(a=key, b=other).ratio() >= LIKE
