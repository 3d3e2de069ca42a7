"""Finds what people mean by a name: a part on a kind, a kind in a spreadsheet, a fault by its code.

Every refusal lists what is known, so that the reader can put it right without a manual.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache

from core.accents import without_accents
from inventory.catalog.schema import (
    MISSING_PART,
    Catalog,
    Fault,
    FaultWay,
    Kind,
    Part,
    Place,
    Remedy,
    Role,
    RoleTag,
    Severity,
)

KIND_TAIL = re.compile(r"(\s*(#|no\.?|nr\.?|number)?\s*\d+)+$")
_KEY = r"(?P<letter>[a-g])(?P<flat>b|♭|[ -]?flat)?"
KEY_FIRST = re.compile(rf"{_KEY}\s+(?P<rest>.+)")
KEY_LAST = re.compile(rf"(?P<rest>.+?)\s+{_KEY}")
NOT_WORD = re.compile(r"[^a-z0-9]+")
MILLIMETERS = re.compile(r"(?:pulled )?\d+(?:\.\d+)? ?mm")


class UnknownNameError(LookupError):
    """A name the catalog does not know; the message lists the names it does know."""

    says = "is not known. Known"

    def __init__(self, *, what: str, name: str, known: Iterable[str]) -> None:
        self.known = tuple(known)
        super().__init__(f"{what} {name!r} {self.says}: {', '.join(self.known)}")


class AmbiguousNameError(UnknownNameError):
    """A name that fits several parts; ``known`` lists the names that say which."""

    says = "fits several. Say which"


def slug(text: str) -> str:
    """Return the snake-case form of a name: "Third-valve slide" is third_valve_slide, "F# pad" is fs_pad, "flûte" flute."""
    plain = text.casefold().replace("#", "s").replace("♯", "s").replace("♭", "b")
    if not plain.isascii():
        plain = without_accents(plain)
    return NOT_WORD.sub("_", plain).strip("_")


def full_code(part: Part, place: Place | None = None) -> str:
    """Return the code of a part, or of a place at it: piston, piston_2."""
    return f"{part.code}_{place.code}" if place else part.code


def resolve_part(kind: Kind, text: str) -> tuple[Part, Place | None]:
    """Return the part (and place) of a kind that a name means.

    Taken are part codes and names, part and place in either order (piston_2, second_piston), a place alone where
    only one part has it (Fs_pad), and the trade's longer names, in any case, singular or plural.
    """
    found = _index(kind.parts).get(slug(text), ())
    if len(found) == 1:
        return found[0]
    if found:
        raise AmbiguousNameError(what=f"part of a {kind.code}", name=text, known=(full_code(*one) for one in found))
    raise UnknownNameError(what=f"part of a {kind.code}", name=text, known=known_parts(kind))


def known_parts(kind: Kind) -> tuple[str, ...]:
    """Return the full codes of a kind's parts and places in walk order."""
    return tuple(
        code
        for part in kind.parts
        for code in (part.code, *(full_code(part, place) for place in part.places if not part.repeats_places))
    )


def resolve_kind(catalog: Catalog, text: str) -> Kind:
    """Return the kind with this code or spreadsheet word."""
    found = catalog.kinds.get(slug(text)) or find_kind(catalog, text)
    if found is None:
        raise UnknownNameError(what="kind", name=text, known=catalog.kinds)
    return found


def resolve_fault(catalog: Catalog, text: str, *, part: Part | None = None) -> Fault:
    """Return the fault with this code; with a part, only one that its role can have."""
    known: Mapping[str, Fault] = catalog.faults
    if part is not None:
        known = {code: catalog.faults[code] for code in (*catalog.faults_at(part), MISSING_PART)}
    found = known.get(slug(text))
    if found is None:
        raise UnknownNameError(what=f"fault at the {part.name}" if part else "fault", name=text, known=known)
    return found


def resolve_severity(text: str) -> Severity:
    """Return the severity with this word."""
    word = slug(text)
    if word not in tuple(Severity):
        raise UnknownNameError(what="severity", name=text, known=tuple(Severity))
    return Severity(word)


def resolve_detail(text: str, *, fault: Fault, role: Role) -> str:
    """Return a detail of a finding in lower case: what the rules take at such a part, or nothing at all."""
    detail = text.strip().casefold()
    known = []
    if RoleTag.HAND_SLIDE in role.tags:
        known += [f"position {number}" for number in range(1, 8)]
    elif RoleTag.VALVE in role.tags:
        known += ["up", "down", "slow"]
    elif FaultWay.HANDLES in fault.ways:
        known += ["ring"]
    elif FaultWay.FIXES in fault.ways:
        if MILLIMETERS.fullmatch(detail):
            return detail
        known += ["pulled 12 mm"]
    if detail and detail not in known:
        raise UnknownNameError(what=f"detail of {fault.code} at a {role.name}", name=text, known=known or ["none"])
    return detail


def find_kind(catalog: Catalog, text: str) -> Kind | None:
    """Return the kind a spreadsheet means by a word ("Tpt", "TRUMPET #3", "bari sax"), or None.

    Case, accents, punctuation and trailing numbers do not count, nor does a plural s, nor the key that the kind has
    anyway ("Bb tpt", "cornet Bb").
    """
    words = _kind_words(tuple((kind.code, kind.name, kind.aliases) for kind in catalog.kinds.values()))
    plain = text.casefold().strip()
    for candidate in (plain, KIND_TAIL.sub("", plain)):
        if code := _kind_meant(candidate, words=words):
            return catalog.kinds[code]
        for keyed in filter(None, (KEY_FIRST.fullmatch(candidate), KEY_LAST.fullmatch(candidate))):
            code = _kind_meant(keyed["rest"], words=words)
            key = f"{keyed['letter']}{'b' if keyed['flat'] else ''}"
            if code and catalog.kinds[code].key.casefold() == key:
                return catalog.kinds[code]
    return None


def _kind_meant(text: str, *, words: Mapping[str, str]) -> str:
    key = slug(text).replace("_", "")
    return next((words[form] for form in (key, key.removesuffix("s"), key.removesuffix("es")) if form in words), "")


def methods_for(*, catalog: Catalog, kind: Kind, fault: str, role: str, severity: Severity) -> tuple[str, ...]:
    """Return the methods to try for a fault, gentlest first: the first remedy that fits decides; () if none fits."""
    found = remedy_for(catalog=catalog, kind=kind, fault=fault, role=role, severity=severity)
    return found.methods if found is not None else ()


def remedy_for(*, catalog: Catalog, kind: Kind, fault: str, role: str, severity: Severity) -> Remedy | None:
    """Return the first remedy that fits the kind as built."""
    for remedy in _remedies_by_fault(catalog).get(fault, ()):
        if (
            severity in remedy.severities
            and (not remedy.roles or role in remedy.roles)
            and (not remedy.layouts or kind.layout in remedy.layouts)
            and kind.fits(remedy)
            and kind.has_chosen(remedy.only_with, {})
        ):
            return remedy
    return None


@lru_cache(maxsize=32)
def _remedies_by_fault(catalog: Catalog) -> Mapping[str, tuple[Remedy, ...]]:
    found: dict[str, tuple[Remedy, ...]] = {}
    for remedy in catalog.remedies:
        found[remedy.fault] = (*found.get(remedy.fault, ()), remedy)
    return found


KindNames = tuple[str, str, tuple[str, ...]]  # code, name, aliases


@lru_cache(maxsize=8)
def _kind_words(kinds: tuple[KindNames, ...]) -> Mapping[str, str]:
    words: dict[str, str] = {}
    for code, name, aliases in kinds:
        for word in (code, name, *aliases):
            words.setdefault(slug(word).replace("_", ""), code)
    return words


Meaning = tuple[Part, Place | None]


@lru_cache(maxsize=128)
def _index(parts: tuple[Part, ...]) -> Mapping[str, tuple[Meaning, ...]]:
    """Return what every name of a walk may mean: codes win over names, and names over words for a place."""
    result: dict[str, tuple[Meaning, ...]] = {}
    for rank in (_codes, _place_codes, _names, _places_alone):
        names: dict[str, list[Meaning]] = {}
        for name, meaning in rank(parts):
            if meaning not in names.setdefault(name, []):
                names[name].append(meaning)
        result = {name: tuple(meanings) for name, meanings in names.items()} | result
    return result


def _codes(parts: tuple[Part, ...]) -> Iterator[tuple[str, Meaning]]:
    for part in parts:
        yield part.code, (part, None)
        for place in part.places:
            yield slug(full_code(part, place)), (part, place)


def _place_codes(parts: tuple[Part, ...]) -> Iterator[tuple[str, Meaning]]:
    for part in parts:
        for place in () if part.repeats_places else part.places:
            if not place.code.isdigit():
                yield slug(place.code), (part, place)


def _names(parts: tuple[Part, ...]) -> Iterator[tuple[str, Meaning]]:
    for part in parts:
        names = {form for name in (part.code, part.name, *part.aliases) for form in _numbers(slug(name))}
        for name in names:
            yield name, (part, None)
            for place in part.places:
                for word in (place.code, place.name, *place.aliases):
                    yield f"{name}_{slug(word)}", (part, place)
                    yield f"{slug(word)}_{name}", (part, place)


def _places_alone(parts: tuple[Part, ...]) -> Iterator[tuple[str, Meaning]]:
    for part in parts:
        for place in () if part.repeats_places else part.places:
            for word in (place.code, place.name, *place.aliases):
                if not slug(word).isdigit():
                    yield slug(word), (part, place)


def _numbers(name: str) -> tuple[str, ...]:
    """Return a name in singular and plural, by its last letter alone: good enough for parts of instruments."""
    return (name, name.removesuffix("s"), f"{name.removesuffix('s')}s")
