"""What limits an instrument, as families read it: a loan keeps the sentences in English, as the rules compose them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from itertools import combinations

from django.utils.translation import get_language

from loans.rules.terms import ENGLISH
from loans.selectors.families import note_in, phrases_in, said_in, where_in, words_in

HOLE = re.compile(r"\\\{(\w+)\\\}")
NOTE = re.compile(r"[A-G][♯♭]?-?\d")
NEXT_COUNT = re.compile(r", (?=\d+ (?:of|off|needs?) )")  # "2 of 12 notes lost (C4, D4), 1 off (E4 +30 cents)"
HOW_BAD = re.compile(r"(?P<rest>.+?)(?: \((?P<how>light|severe)\))?")


def limits_to_read(lines: Iterable[str]) -> list[str]:
    """Return the limits kept with a loan in the reader's language."""
    return [limit_in((get_language() or ENGLISH).partition("-")[0], line) for line in lines]


def limit_in(language: str, line: str) -> str:
    """Return a limit as families say it; as it was written where somebody typed it, or nobody has said it so yet."""
    return line if language == ENGLISH else _sentence(language, line) or line


def _sentence(language: str, line: str) -> str:
    """Return "" for what is none of the rules' sentences, as do all below."""
    if whole := _phrase(language, line):
        return whole
    for cut in re.finditer(": ", line):  # parts and notes have colons too
        name, effects = line[: cut.start()], line[cut.end() :].removesuffix(".").split("; ")
        parts = [_finding(language, name), *(_effect(language, effect) for effect in effects)]
        if all(parts):
            return f"{parts[0]}: {'; '.join(parts[1:])}."
    return ""


def _finding(language: str, name: str) -> str:
    """Return "Pistons, valve 2, stuck piston, up (severe)": part, place, fault, what it leaves open, how bad it is."""
    found = HOW_BAD.fullmatch(name)
    if found is None:
        return ""
    pieces, how = found["rest"].split(", "), found["how"]
    for end, start in combinations(range(len(pieces), 0, -1), 2):  # parts and faults have commas too: the longest
        where, fault, detail = (", ".join(some) for some in (pieces[:start], pieces[start:end], pieces[end:]))
        parts = [_where(language, where), said_in(language, fault)]
        if all(parts):
            parts += [_phrase(language, detail) or detail] if detail else []
            return ", ".join(parts) + (f" ({words_in(language)[how]})" if how else "")
    return ""


def _where(language: str, where: str) -> str:
    """Return a part, with its place if it has one."""
    pieces = where.split(", ")
    for cut in range(len(pieces), 0, -1):
        part, place = ", ".join(pieces[:cut]), ", ".join(pieces[cut:])
        is_part = said_in(language, part) or said_in(language, part[:1].lower() + part[1:])
        if is_part and (not place or said_in(language, place)):
            return where_in(language, where)
    return ""


def _effect(language: str, effect: str) -> str:
    phrases = [_phrase(language, one) for one in NEXT_COUNT.split(effect)]
    return ", ".join(phrases) if all(phrases) else ""


def _phrase(language: str, text: str) -> str:
    """Return a phrase of fixtures/families.yaml, with what fills its holes."""
    for pattern, form in _phrases(language):
        if found := pattern.fullmatch(text):
            values = {hole: FILLED.get(hole, _phrase)(language, value) for hole, value in found.groupdict().items()}
            if all(values.values()):
                return form.format(**values)
    return ""


@cache
def _phrases(language: str) -> list[tuple[re.Pattern[str], str]]:
    """Return each phrase with its pattern; those without a hole come first."""
    phrases = sorted(phrases_in(language).items(), key=lambda one: ("{" in one[0], -len(one[0])))
    return [(re.compile(HOLE.sub(r"(?P<\1>.+)", re.escape(english))), form) for english, form in phrases]


def _notes(language: str, text: str) -> str:
    notes = [_phrase(language, one) or _note(language, one) for one in text.split(", ")]
    return ", ".join(notes) if all(notes) else ""


def _note(language: str, note: str) -> str:
    """Return a note, or the name of what sounds by itself, such as a drum of a set."""
    if NOTE.fullmatch(note):
        return note_in(language, note.replace("♯", "#").replace("♭", "b"))
    return said_in(language, note)


def _as_it_is(_language: str, text: str) -> str:
    return text


FILLED: Mapping[str, Callable[[str, str], str]] = {
    **dict.fromkeys(("lost", "all", "off", "number", "cents", "valve", "fingering"), _as_it_is),
    **dict.fromkeys(("notes", "first", "last"), _notes),
    "note": _note,
    "where": said_in,
}
