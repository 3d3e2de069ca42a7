"""Whom a list means by a name: the students of the school whose name it is, and those whose name is like it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import NamedTuple

LIKE = 0.85  # how alike two names are to be asked about, by the share of letters in the same order; common practice


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
    plain = unicodedata.normalize("NFKD", given_first(name).casefold())
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return " ".join(re.sub(r"[^\w]+", " ", plain.replace("'", "").replace("’", "")).split())


def tidy_name(name: str) -> str:
    """Return the name as it is kept: given name first, and in small letters where all of it was in capitals."""
    plain = given_first(name)
    if not (plain.isupper() or plain.islower()):
        return plain
    return re.sub(r"[^\W\d_]+(?:[’'][^\W\d_]+)*", lambda word: word[0][:1].upper() + word[0][1:].lower(), plain)


def match_person(name: str, *, grade: str, known: Iterable[Known]) -> Match:
    """Return whom the name means. Of several with the name, those of the grade alone count, where any is."""
    key = person_key(name)
    swapped = " ".join(sorted(key.split()))
    exact: list[Known] = []
    like: list[Known] = []
    for one in known:
        other = person_key(one.name)
        if other == key or " ".join(sorted(other.split())) == swapped:
            exact.append(one)
        elif _is_like(key, other):
            like.append(one)
    of_grade = [one for one in exact if grade and one.grade == grade]
    return Match(tuple(one.pk for one in of_grade or exact), tuple(one.pk for one in like))


def _is_like(key: str, other: str) -> bool:
    mine, theirs = key.split(), other.split()
    if not mine or not theirs:
        return False
    if mine[-1] == theirs[-1] and mine[0][0] == theirs[0][0] and 1 in {len(mine[0]), len(theirs[0])}:
        return True  # an initial
    matcher = SequenceMatcher(a=key, b=other)
    return matcher.real_quick_ratio() >= LIKE and matcher.quick_ratio() >= LIKE and matcher.ratio() >= LIKE
