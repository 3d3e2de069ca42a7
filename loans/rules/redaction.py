"""Removes a person's name from free text. Our own rules; with free text, nothing is ever certain.

A text is read once, word by word: neighbors that are words of one name make a run, and what the run holds decides. So
the time grows with the text and the number of names, however often a word is repeated in either.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

from core.accents import without_accents

REDACTED = "[erased]"
SHORTEST_PHONE = 7  # digits
EMAIL = re.compile(r"[^\s@,;<>]+@[^\s@,;<>]+")
PHONE = re.compile(r"\+?\d(?:[\s().+/-]*\d)+")
# A word or a number: whatever is neither space nor sign, so that marks stay with their letters in every script.
WORD = re.compile(r"[^\s\d!-/:-@\[-`{-~\u00a0-\u00bf\u2000-\u206f\u3000-\u303f]+|\d+")
BETWEEN = frozenset(
    " \t\n\r\f\v,._-'\u00a0\u2019" + "".join(map(chr, (*range(0x200B, 0x2015), *range(0x202A, 0x202F))))
)
PARTED = re.compile(r"[\s,]")  # ends the given name: a hyphen does not
BEFORE_INITIAL = frozenset(" \t\n\r\u00a0,")
# Small words within names, which name nobody by themselves. From memory, no source.
SMALL = frozenset(
    [
        "al",
        "bin",
        "da",
        "das",
        "de",
        "del",
        "della",
        "den",
        "der",
        "di",
        "dos",
        "du",
        "e",
        "el",
        "ibn",
        "ii",
        "iii",
        "iv",
        "jr",
        "la",
        "le",
        "sr",
        "ten",
        "ter",
        "van",
        "von",
        "y",
        "zu",
    ]
)

Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Word:
    key: str  # as words are compared: without case and accents
    start: int
    end: int  # behind the period of an initial
    is_initial: bool = False  # one letter and a period


@dataclass(frozen=True, slots=True)
class Name:
    """A name: the words of the given name and those after it, the halves of a double name each for itself."""

    given: frozenset[str]
    others: frozenset[str]
    signs: frozenset[str]  # what stands between its own words, where that is not usual

    def sides(self, word: Word) -> str:
        """Return which side of the name a word may stand for: "g", "o", both or none."""
        if word.key in self.given or word.key in self.others or not word.is_initial:
            return "g" * (word.key in self.given) + "o" * (word.key in self.others and word.key not in SMALL)
        begins = {"g": self.given, "o": self.others - SMALL}
        return "".join(side for side, keys in begins.items() if any(key.startswith(word.key) for key in keys))

    def has(self, word: Word) -> bool:
        return word.key in self.others or bool(self.sides(word))

    def joins(self, gap: str, word: Word) -> bool:
        """Whether a word is a neighbor of the one before it, with this between them."""
        allowed = BEFORE_INITIAL if word.is_initial else BETWEEN
        return allowed.issuperset(gap) or gap.strip() in self.signs

    def is_certain(self, run: Sequence[Word]) -> bool:
        """Whether neighbors name the person: a word of the given name and one after it, one of the two in full."""
        if len(run) < 2:
            return False
        if {word.key for word in run} >= self.given | self.others:
            return True
        parts = [(self.sides(word), len(word.key) > 1) for word in run]
        both = "".join(sides for sides, _ in parts)
        return (
            "g" in both
            and "o" in both
            and sum(bool(sides) for sides, _ in parts) > 1
            and any(sides and is_whole for sides, is_whole in parts)
        )

    def spans(self, text: str, words: Sequence[Word]) -> Iterator[Span]:
        run: list[Word] = []
        for word in words:
            if run and not (self.has(word) and self.joins(text[run[-1].end : word.start], word)):
                if self.is_certain(run):
                    yield run[0].start, run[-1].end
                run = []
            if self.has(word):
                run.append(word)
        if self.is_certain(run):
            yield run[0].start, run[-1].end

    @property
    def in_one(self) -> Iterator[str]:
        """The given name and one after it written as one word, as in the name of a file."""
        for one, other in product(self.given, self.others - SMALL):
            if min(len(one), len(other)) > 1:
                yield one + other
                yield other + one


@dataclass(frozen=True, slots=True)
class Redaction:
    """What to look for: names and contacts always mean the person, a single word may not ("Reed", "Bell", "Rose")."""

    names: tuple[Name, ...]
    in_one: frozenset[str]
    contacts: re.Pattern[str] | None
    possible: frozenset[str]
    keys: frozenset[str]  # of all words that are looked for

    def redact(self, text: str, *, with_possible: bool = False) -> str:
        """Return the text without the names; a text without any is returned unchanged."""
        plain, words = self._read(text)
        spans = self._certain(plain, words)
        if with_possible:
            spans = _joined([*spans, *self._possible(plain, words)])
        if not spans:
            return text
        ends = [0, *(end for _, end in spans)]
        kept = [plain[end:start] for end, start in zip(ends, (*(start for start, _ in spans), len(plain)), strict=True)]
        return REDACTED.join(kept)

    def is_named_in(self, text: str) -> bool:
        """Whether the text certainly names the person."""
        return bool(self._certain(*self._read(text)))

    def may_be_named_in(self, text: str) -> bool:
        """Whether a word that may be part of the name is left after the certain matches are removed."""
        plain, words = self._read(text)
        certain = self._certain(plain, words)
        return len(_joined([*certain, *self._possible(plain, words)])) > len(certain)

    def _read(self, text: str) -> tuple[str, tuple[Word, ...]]:
        """Return the text as it is compared, and its words; no words where none is looked for, as in most texts."""
        plain = unicodedata.normalize("NFC", text)
        if self.keys.isdisjoint(map(key_of, WORD.findall(plain))):
            return plain, ()
        return plain, tuple(words_of(plain))

    def _certain(self, text: str, words: Sequence[Word]) -> list[Span]:
        found = [span for name in self.names for span in name.spans(text, words)]
        found += [(word.start, word.end) for word in words if word.key in self.in_one]
        if self.contacts is not None:
            found += [match.span() for match in self.contacts.finditer(text)]
        return _joined(found)

    def _possible(self, text: str, words: Sequence[Word]) -> list[Span]:
        found = [(word.start, word.end) for word in words if word.key in self.possible]
        hyphens = [(one[1], other[0]) for one, other in pairwise(found) if text[one[1] : other[0]] == "-"]
        return [*found, *hyphens]


def redaction_for(*, names: Iterable[str], contacts: Iterable[str] = (), nicknames: Iterable[str] = ()) -> Redaction:
    """Return what to look for: full names, email addresses and phone numbers are certain, single words possible.

    A full name is the given name beside any word after it, in any order and spelling: "Rosa García-López" as "rosa
    lopez", "Garcia, Rosa", "R. García", "Rosa G." and "rosa_garcia.csv". Nicknames are possible.
    """
    full = [name for text in dict.fromkeys(names) if (name := _name(text))]
    single = {key for name in full for key in (*name.given, *(name.others - SMALL))}
    single |= {word.key for nickname in nicknames for word in words_of(unicodedata.normalize("NFC", nickname))}
    in_one = frozenset(key for name in full for key in name.in_one)
    return Redaction(
        names=tuple(name for name in full if name.others),
        in_one=in_one,
        contacts=_any_of(pattern for contact in contacts for pattern in _contact_patterns(contact)),
        possible=frozenset(key for key in single if len(key) > 1),
        keys=frozenset(single | in_one),
    )


def words_of(text: str) -> Iterator[Word]:
    """Yield the words of a text. Halves of a word with a hyphen or apostrophe are words, and so are its numbers."""
    for match in WORD.finditer(text):
        start, end = match.span()
        key = key_of(match.group())
        is_initial = len(key) == 1 and key.isalpha() and text.startswith(".", end)
        yield Word(key, start, end + is_initial, is_initial)


def key_of(word: str) -> str:
    """Return a word as words are compared."""
    if word.isascii():
        return word.lower()
    return without_accents(word).casefold() or word


def _name(text: str) -> Name | None:
    plain = unicodedata.normalize("NFC", text)
    words = list(words_of(plain))
    if not words:
        return None
    ends = (
        word.end for word, after in pairwise(words) if word.is_initial or PARTED.search(plain, word.end, after.start)
    )
    first = next(ends, words[-1].end)
    gaps = {plain[word.end : after.start] for word, after in pairwise(words)}
    return Name(
        given=frozenset(word.key for word in words if word.end <= first),
        others=frozenset(word.key for word in words if word.end > first),
        signs=frozenset(gap.strip() for gap in gaps if not BETWEEN.issuperset(gap)),
    )


def _contact_patterns(contact: str) -> Iterator[str]:
    text = unicodedata.normalize("NFC", contact)
    yield from (re.escape(email) for email in EMAIL.findall(text))
    for phone in PHONE.findall(EMAIL.sub(" ", text)):
        digits = re.sub(r"\D", "", phone)
        if len(digits) >= SHORTEST_PHONE:
            yield r"\+?" + r"[\s().+/-]*".join(digits)


def _any_of(patterns: Iterable[str]) -> re.Pattern[str] | None:
    chosen = sorted(dict.fromkeys(patterns), key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(chosen)})(?!\w)", re.IGNORECASE) if chosen else None


def _joined(spans: Iterable[Span]) -> list[Span]:
    """Return the spans in their order, those that overlap or touch as one."""
    joined: list[Span] = []
    for start, end in sorted(spans):
        if joined and start <= joined[-1][1]:
            joined[-1] = joined[-1][0], max(end, joined[-1][1])
        else:
            joined.append((start, end))
    return joined
