"""Builds kinds: each takes from its layout the parts that name it, and its accessories, options and care by code."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from inventory.catalog.load.entries import entries
from inventory.catalog.load.fields import Fields
from inventory.catalog.schema import (
    AccessorySpec,
    Bath,
    CareCard,
    Family,
    Hygiene,
    Kind,
    Option,
    Origin,
    Part,
    Place,
    PlayingModel,
    Wet,
)

if TYPE_CHECKING:
    from inventory.catalog.load.folder import Folder

LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
NATURALS = {0: "C", 2: "D", 4: "E", 5: "F", 7: "G", 9: "A", 11: "B"}
ACCIDENTALS = {1: ("C#", "Db"), 3: ("Eb", "D#"), 6: ("F#", "Gb"), 8: ("Ab", "G#"), 10: ("Bb", "A#")}
NOTE = re.compile(r"^([A-G])([#b]?)(-?\d)$")
OCTAVE = 12
MOST_SEMITONES = 48


def pitch_number(note: str) -> int | None:
    """Return the MIDI number of a note in scientific pitch ("Bb3" is 58), None if it is no note."""
    match = NOTE.match(note)
    if not match:
        return None
    letter, accidental, octave = match.groups()
    return LETTERS[letter] + {"": 0, "#": 1, "b": -1}[accidental] + OCTAVE * (int(octave) + 1)


def build_kinds(*, folder: Folder) -> dict[str, Kind]:
    """Build every kind, its parts resolved."""
    accessories = {code: _accessory(code, fields) for code, fields in entries(folder=folder, name="accessories")}
    options = {code: _option(code, fields) for code, fields in entries(folder=folder, name="options")}
    care = {code: _care(fields) for code, fields in entries(folder=folder, name="care")}
    return {
        code: _kind(code, fields, folder=folder, accessories=accessories, options=options, care=care)
        for code, fields in entries(folder=folder, name="kinds")
    }


def _accessory(code: str, fields: Fields) -> AccessorySpec:
    fields.choice("origin", Origin)
    accessory = AccessorySpec(
        code=code,
        name=fields.text("name"),
        count=1,
        essential=fields.flag("essential", default=False),
        hygiene=fields.choice("hygiene", Hygiene, Hygiene.NONE),
        between_players=fields.text("between_players", ""),
    )
    if accessory.hygiene and not accessory.between_players:
        fields.note("between_players", "say what is done with it between players, as somebody ticks it")
    fields.close()
    return accessory


def _option(code: str, fields: Fields) -> Option:
    fields.choice("origin", Origin)
    option = Option(
        code=code, name=fields.text("name"), choices=fields.texts("choices"), default=fields.text("default")
    )
    if option.choices and option.default not in option.choices:
        fields.note("default", "not one of the choices")
    fields.close()
    return option


def _care(fields: Fields) -> tuple[tuple[str, ...], CareCard]:
    fields.choice("origin", Origin)
    tips = fields.texts("tips")
    card = CareCard(
        daily=fields.texts("daily", ()),
        weekly=fields.texts("weekly", ()),
        never=fields.texts("never", ()),
        between_players=fields.texts("between_players", ()),
    )
    fields.close()
    return tips, card


def _kind(  # the shared lists a kind refers to
    code: str,
    fields: Fields,
    *,
    folder: Folder,
    accessories: dict[str, AccessorySpec],
    options: dict[str, Option],
    care: dict[str, tuple[tuple[str, ...], CareCard]],
) -> Kind:
    sounds = fields.take("sounds")
    if sounds is not None and (not isinstance(sounds, int) or abs(sounds) > MOST_SEMITONES):
        fields.note("sounds", "expected semitones as a whole number, or null")
        sounds = None
    sounding = _range(fields, "sounding")
    layout = fields.text("layout")
    life = fields.take("life_years", [0, 0])
    care_code = fields.text("care")
    if care_code not in care:
        fields.note("care", f"no care tips called {care_code}")
    tips, card = care.get(care_code, ((), CareCard()))
    levels, prices = fields.inner("levels"), fields.inner("prices")
    kind = Kind(
        code=code,
        name=fields.text("name"),
        aliases=fields.texts("aliases"),
        family=fields.choice("family", Family),
        layout=layout,
        model=fields.choice("model", PlayingModel),
        chart=fields.text("chart", ""),
        key=fields.text("key", ""),
        sounds=sounds,
        clef=fields.text("clef"),
        sounding=sounding,
        first_year=_range(fields, "first_year"),
        levels={level: span for level in levels.raw if (span := _range(levels, level))},
        starts=fields.text("starts", ""),
        prices={level: prices.span(level) for level in ("student", "intermediate")},
        life_years=_life(fields, life),
        upkeep=fields.number("upkeep"),
        repair_limit=fields.number("repair_limit"),
        accessories=_accessories(fields, accessories),
        options=_options(fields, options),
        parts=_parts(fields, folder=folder, layout=layout, code=code, sounding=sounding, sounds=sounds),
        play_test=fields.text("play_test"),
        care=tips,
        card=card,
        origin=fields.choice("origin", Origin),
    )
    for inner in (levels, prices, fields):
        inner.close()
    return kind


def _life(fields: Fields, life: Any) -> tuple[int, int]:
    if isinstance(life, list) and len(life) == 2 and all(isinstance(y, int) and y > 0 for y in life):
        return life[0], life[1]
    fields.note("life_years", "expected years as [low, high]")
    return 1, 1


def _range(fields: Fields, name: str) -> tuple[str, str] | None:
    value = fields.take(name, None)
    if value is None:
        return None
    notes = value if isinstance(value, list) else []
    numbers = [pitch_number(note) if isinstance(note, str) else None for note in notes]
    low, high = numbers if len(numbers) == 2 else (None, None)  # low, high
    if low is None or high is None or low >= high:
        fields.note(name, "expected [low note, high note], as [A3, E5]")
        return None
    return notes[0], notes[1]


def _accessories(fields: Fields, known: dict[str, AccessorySpec]) -> tuple[AccessorySpec, ...]:
    """Read the list of accessories: a code, or a code with its count and a name of its own."""
    result = []
    for code, inner in fields.each("accessories"):
        if code not in known:
            inner.note("", f"no accessory called {code}")
            continue
        base = known[code]
        result.append(
            AccessorySpec(
                code=code,
                name=inner.text("name", base.name),
                count=inner.whole("count", 1, low=1, high=20),
                essential=inner.flag("essential", default=base.essential),
                hygiene=base.hygiene,
                between_players=base.between_players,
            )
        )
        inner.close()
    return tuple(result)


def _options(fields: Fields, known: dict[str, Option]) -> tuple[Option, ...]:
    result = []
    for code, inner in fields.each("options"):
        if code not in known:
            inner.note("", f"no option called {code}")
            continue
        base = known[code]
        choices = inner.texts("choices", base.choices)
        default = inner.text("default", base.default)
        if default not in choices:
            inner.note("default", "not one of the choices")
        result.append(Option(code=code, name=inner.text("name", base.name), choices=choices, default=default))
        inner.close()
    return tuple(result)


def _parts(  # what a part may depend on
    fields: Fields,
    *,
    folder: Folder,
    layout: str,
    code: str,
    sounding: tuple[str, str] | None,
    sounds: int | None,
) -> tuple[Part, ...]:
    if layout not in folder.layouts:
        fields.note("layout", f"no layout called {layout}")
        return ()
    file = folder.files["layouts", layout]
    outer = Fields(folder.layouts[layout], file, layout, folder.problems)
    outer.choice("origin", Origin)
    walk = [(part, inner) for part, inner in outer.each("parts") if _names_kind(inner, code)]
    bars = _bars(sounding=sounding, sounds=sounds)
    built: dict[str, Part] = {}
    for part, inner in walk:
        built[part] = _part(part, inner, kind=code, built=built, bars=bars)
    outer.close()
    return tuple(sorted(built.values(), key=lambda part: _positions(walk).index(part.code)))


def _positions(walk: list[tuple[str, Fields]]) -> list[str]:
    """Return part codes in walk order; one with ``follows`` (a district's own part) stands behind that part."""
    order: list[str] = []
    for code, inner in walk:
        follows = inner.raw.get("follows")
        order.insert(order.index(follows) + 1 if follows in order else len(order), code)
    return order


def _names_kind(fields: Fields, code: str) -> bool:
    kinds, not_kinds = fields.texts("kinds", ()), fields.texts("not_kinds", ())
    return (not kinds or code in kinds) and code not in not_kinds


def _part(code: str, fields: Fields, *, kind: str, built: dict[str, Part], bars: dict[str, tuple[Place, ...]]) -> Part:
    fields.text("follows", "")
    repeated = fields.texts("places_of", ())
    part = Part(
        code=code,
        name=fields.text("name"),
        role=fields.text("role"),
        look_for=fields.texts("look_for", ()),
        test=fields.text("test", ""),
        wet=fields.choice("wet", Wet, Wet.NO.value),
        wet_note=fields.text("wet_note", ""),
        bath=fields.choice("bath", Bath, Bath.NONE.value),
        places=tuple(place for other in repeated if other in built for place in built[other].places)
        or _places(fields, kind=kind, bars=bars),
        aliases=fields.texts("aliases", ()),
        drawn_on=fields.text("drawn_on", ""),
        in_bore=fields.flag("in_bore", default=True),
        only_with=fields.text("only_with", ""),
        valve=fields.text("valve", ""),
        repeats_places=bool(repeated),
    )
    fields.close()
    return part


def _places(fields: Fields, *, kind: str, bars: dict[str, tuple[Place, ...]]) -> tuple[Place, ...]:
    """Read the places of a part: a list of entries, or the name of a row of bars."""
    value = fields.take("places", [])
    if isinstance(value, str):
        if value not in bars:
            fields.note("places", f"expected a list, or one of {', '.join(bars)}")
        return bars.get(value, ())
    if not isinstance(value, list):
        fields.note("places", "expected a list")
        return ()
    result = []
    for count, raw in enumerate(value, start=1):
        inner = fields.entry(f"places.{count}", raw)
        wanted = _names_kind(inner, kind)
        place = Place(
            code=inner.text("code"),
            name=inner.text("name"),
            aliases=inner.texts("aliases", ()),
            only_with=inner.text("only_with", ""),
        )
        inner.close()
        if wanted:
            result.append(place)
    return tuple(result)


def _bars(*, sounding: tuple[str, str] | None, sounds: int | None) -> dict[str, tuple[Place, ...]]:
    """Return a row of naturals and one of accidentals, named as written, over the range that sounds."""
    rows: dict[str, list[Place]] = {"bars_naturals": [], "bars_accidentals": []}
    low, high = (pitch_number(note) for note in sounding) if sounding else (None, None)
    if low is not None and high is not None:
        for number in range(low - (sounds or 0), high - (sounds or 0) + 1):
            octave, step = number // OCTAVE - 1, number % OCTAVE
            if step in NATURALS:
                note = f"{NATURALS[step]}{octave}"
                rows["bars_naturals"].append(Place(code=note, name=f"{note} bar"))
            else:
                usual, other = (f"{name}{octave}" for name in ACCIDENTALS[step])
                code = usual.replace("#", "s")
                rows["bars_accidentals"].append(Place(code=code, name=f"{usual} bar", aliases=(usual, other)))
    return {name: tuple(row) for name, row in rows.items()}
