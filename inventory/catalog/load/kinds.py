"""Builds kinds: each takes from its layout the parts that fit it, and its accessories, options and care by code."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from inventory.catalog.load.reading import Reader, did_you_mean
from inventory.catalog.schema import MISSING_PART, AccessorySpec, CareCard, Feature, Kind, Layout, Option, Part, Place
from inventory.rules.notes import signed
from inventory.rules.pitch import midi_of, name_of

OTHER_NAMES = {"C#": "Db", "Eb": "D#", "F#": "Gb", "Ab": "G#", "Bb": "A#"}


def build_kinds(reader: Reader, *, settings: Mapping[str, Decimal]) -> dict[str, Kind]:
    """Build every kind, its parts resolved. One that names no limit for repairs has the usual one of the settings."""
    folder = reader.folder
    shared: dict[str, Mapping[str, Any]] = {"accessories": _accessories(reader), "options": _options(reader)}
    cards = reader.section("care", CareCard)
    layouts, features = _layouts(reader), reader.section("features", Feature)
    result = {}
    for code, entry in folder.sections["kinds"].items():
        reader.file = folder.files["kinds", code]
        key = f"kinds.{code}"
        if not isinstance(entry, dict):
            reader.note(key, "expected a mapping")
            continue
        raw = {"repair_limit": settings.get("repair_limit"), **entry}
        for section, built in shared.items():
            if isinstance(raw.get(section), dict):
                raw[section] = _with_shared(reader, section=section, own=raw[section], built=built, key=key)
        care = str(raw.pop("care", ""))
        reader.check_codes("care", [care or "nothing"], f"{key}.care")
        card = cards.get(care, CareCard())
        origin = folder.origins.get(("kinds", code))
        kind = reader.entry(Kind, raw, key, code=code, origin=origin, parts=(), card=card, care=card.tips)
        layout = layouts.get(kind.layout) if kind else None
        if kind and layout and _says_its_features(reader, kind=kind, raw=raw, features=features):
            kind = replace(
                kind,
                features=(*layout.features, *kind.features),
                outline=kind.outline or layout.outline,
                silhouette=kind.silhouette or layout.silhouette,
            )
            result[code] = replace(kind, parts=_parts(layout, kind=kind))
    _check_only_with(reader, layouts=layouts, kinds=result)
    return result


def _accessories(reader: Reader) -> dict[str, AccessorySpec]:
    found = reader.section("accessories", AccessorySpec)
    for code, spec in found.items():
        if spec.hygiene and not spec.between_players:
            reader.file = reader.folder.files["accessories", code]
            reason = "say what is done with it between players, as somebody ticks it"
            reader.note(f"accessories.{code}.between_players", reason)
    return found


def _options(reader: Reader) -> dict[str, Option]:
    found = reader.section("options", Option)
    for code, option in found.items():
        if option.default not in option.choices:
            reader.file = reader.folder.files["options", code]
            reader.note(f"options.{code}.default", "not one of the choices")
    return found


def _layouts(reader: Reader) -> dict[str, Layout]:
    result = {}
    for code, raw in reader.folder.sections["layouts"].items():
        reader.file = reader.folder.files["layouts", code]
        layout = reader.entry(Layout, raw, code)
        if layout is not None:
            result[code] = layout
    return result


def _with_shared(
    reader: Reader, *, section: str, own: Mapping[str, Any], built: Mapping[str, Any], key: str
) -> dict[str, Any]:
    """Lay what a kind says of an accessory or option over the shared entry. One that was refused is left out."""
    known = reader.folder.sections[section]
    result = {}
    for code, raw in own.items():
        reader.check_codes(section, [str(code)], f"{key}.{section}.{code}")
        if code in built:
            result[code] = {"origin": built[code].origin, **known[code], **raw} if isinstance(raw, dict) else raw
    return result


def _says_its_features(reader: Reader, *, kind: Kind, raw: Mapping[str, Any], features: Mapping[str, Feature]) -> bool:
    """Note a kind that does not say which features of its layout it has, or names one of another layout."""
    offered = [code for code, one in features.items() if kind.layout in one.layouts]
    key = f"kinds.{kind.code}.features"
    if offered and "features" not in raw:
        reader.note(key, f"missing: say which of {', '.join(offered)} it has, [] for none")
        return False
    others = [code for code in kind.features if code not in offered]
    for code in others:
        reader.note(key, f"{code} is no feature of layout {kind.layout}{did_you_mean(code, offered)}")
    return not others


def _parts(layout: Layout, *, kind: Kind) -> tuple[Part, ...]:
    """Return the walk of a kind; a part with ``follows`` (a district's own) comes right after that part."""
    offered = _offered([kind])

    def fits(one: Part | Place) -> bool:
        return kind.fits(one) and (not one.only_with or one.only_with in offered)

    walk: list[Part] = []
    for part in filter(fits, layout.parts):
        places = tuple(filter(fits, part.places)) or (_bars(kind, part.bars) if part.bars else ())
        if part.places_of:
            by_code = {one.code: one.places for one in walk}
            places = tuple(place for code in part.places_of for place in by_code.get(code, ()))
        codes = [one.code for one in walk]
        at = codes.index(part.follows) + 1 if part.follows in codes else len(walk)
        comes_off = (MISSING_PART,) if part.comes_off_if in kind.features else ()
        walk.insert(at, replace(part, places=places, faults=(*part.faults, *comes_off)))
    return tuple(walk)


def _offered(kinds: Iterable[Kind]) -> set[str]:
    return {f"{option.code}={choice}" for kind in kinds for option in kind.options for choice in option.choices}


def _check_only_with(reader: Reader, *, layouts: Mapping[str, Layout], kinds: Mapping[str, Kind]) -> None:
    """Note a part or place for an option that no kind with its layout has."""
    for code, layout in layouts.items():
        reader.file = reader.folder.files["layouts", code]
        offered = _offered(kind for kind in kinds.values() if kind.layout == code)
        for part in layout.parts:
            for only_with in {part.only_with, *(place.only_with for place in part.places)} - offered - {""}:
                reason = f"no kind with this layout has the option {only_with}{did_you_mean(only_with, offered)}"
                reader.note(f"{code}.parts.{part.code}.only_with", reason)


def _bars(kind: Kind, row: str) -> tuple[Place, ...]:
    """Return the bars of one row over the range that sounds, named as written."""
    if kind.sounding is None:
        return ()
    low, high = (midi_of(note) - (kind.sounds or 0) for note in kind.sounding)
    result = []
    for note in map(name_of, range(low, high + 1)):
        other = OTHER_NAMES.get(note[:-1])
        if other is None and row == "naturals":
            result.append(Place(code=note, name=signed(f"{note} bar")))
        elif other and row == "accidentals":
            aliases = (note, f"{other}{note[-1]}")
            result.append(Place(code=note.replace("#", "s"), name=signed(f"{note} bar"), aliases=aliases))
    return tuple(result)
