"""Read the fingering charts from ``fixtures/catalog/charts`` and work each fingering out.

A file holds charts by code. A chart that is ``like`` another takes everything from it that it does not say itself.

What a file says and what a chart is are two sets of types on purpose: a confirmed chart is known by a digest over the
fields of ``chart_schema``, so those must not change with the way charts are written down.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal

from msgspec import Meta

from inventory.catalog.chart_schema import (
    Backing,
    BrassChart,
    Chart,
    Fingering,
    Hole,
    HoleChart,
    Rest,
    Side,
    SlideChart,
    Throw,
    TuningSlide,
)
from inventory.catalog.load import override_folder
from inventory.catalog.load.folder import Folder, read_document
from inventory.catalog.load.problems import CatalogError, Problem
from inventory.catalog.load.reading import Reader, did_you_mean
from inventory.catalog.schema import Catalog, Kind
from inventory.catalog.schema.words import NoteRange, Texts
from inventory.rules.pitch import midi_of, name_of
from inventory.rules.playing.partials import open_notes
from inventory.rules.playing.slides import SlideModel

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "catalog" / "charts"
# Semitones that a fingering lowers the open note by, in the order the trade prefers them.
DROPS = {0: "0", 1: "2", 2: "1", 3: "12", 4: "23", 5: "13", 6: "123"}
_FLATS = {"C#": "Db", "F#": "Gb"}

Note = Annotated[str, Meta(pattern=r"^[A-G][#b]?-?\d$", description="a note, as F#3")]
Partials = tuple[Literal[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 16], ...]


@dataclass(frozen=True, kw_only=True)
class _File:
    """What every chart in a file says."""

    model: Literal["valves", "slide", "holes"]
    name: str
    verified: bool
    origin: str
    aliases: Texts = ()
    tuning: tuple[TuningSlide, ...] = ()

    def head(self, code: str) -> dict[str, Any]:
        """Return what goes into the chart as it stands."""
        head = {"code": code, "name": self.name, "verified": self.verified, "origin": self.origin}
        return head | {"aliases": self.aliases}


@dataclass(frozen=True)
class _Side:
    fundamental: Note
    partials: Partials
    code: str = ""
    prefix: str = ""


@dataclass(frozen=True)
class _Throw:
    valve: int
    cures: Texts
    option: str = ""
    cannot: Texts = ()
    travel_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class _Valves(_File):
    sides: tuple[_Side, ...]
    usual: Mapping[Note, str]
    extend: NoteRange | None = None
    spelling: Literal["", "flats"] = ""
    four_valves: Mapping[str, str] = field(default_factory=dict)
    clef: Literal["", "treble", "bass"] = ""
    throws: tuple[_Throw, ...] = ()


@dataclass(frozen=True, kw_only=True)
class _Slide(_File):
    fundamental: Note
    partials: Partials
    usual: Mapping[Note, str]
    more: Mapping[Note, str] = field(default_factory=dict)
    attachment: int = 5
    second_attachment: int = 4


@dataclass(frozen=True)
class _Press:
    press: str
    vents: Texts = ()
    register: int = 1
    forked: bool = False  # the pads shut below the hole it sounds from count too
    backed: Backing = Backing.TWO


@dataclass(frozen=True, kw_only=True)
class _Register:
    """Notes that are fingered like those below them, with keys and vents besides."""

    from_: Note
    to: Note
    down: int
    register: int
    press: str = ""
    vents: Texts = ()


@dataclass(frozen=True, kw_only=True)
class _Holes(_File):
    holes: tuple[Hole, ...]
    end: str
    closes: Mapping[str, Texts]
    opens: Mapping[str, Texts]
    notes: Mapping[Note, tuple[_Press, ...]]
    registers: tuple[_Register, ...] = ()
    joints: Mapping[str, str] = field(default_factory=dict)
    says: Mapping[str, str] = field(default_factory=dict)
    backed: Backing = Backing.MEMORY  # of every fingering that is no worse backed by itself


def load_charts(folder: Path = FOLDER, *, more: Path | None = None) -> dict[str, Chart]:
    """Return the charts of a folder by code; those of ``more`` (a district's own) replace or add.

    CatalogError names every problem by file, key and reason.
    """
    reader = Reader(folder=Folder())
    raw: dict[str, Any] = {}
    files: dict[str, str] = {}
    for place in (folder, more):
        for path in sorted(place.glob("*.yaml")) if place else ():
            file = f"{place.parent.name}/{place.name}/{path.name}" if place else ""
            found = read_document(path=path, file=file, problems=reader.problems)
            raw.update(found)
            files.update(dict.fromkeys(found, file))
    charts = {}
    for code in raw:
        reader.file = files[code]
        chart = _chart(reader, code=code, raw=raw)
        if chart is not None:
            charts[code] = chart
    if reader.problems:
        raise CatalogError(reader.problems)
    return charts


@cache
def charts() -> Mapping[str, Chart]:
    """Return the charts of this installation by code and by alias, read once."""
    own = override_folder()
    return named(load_charts(more=own / "charts" if own else None))


def named(loaded: Mapping[str, Chart]) -> dict[str, Chart]:
    """Return charts by code and by alias."""
    return {alias: chart for chart in loaded.values() for alias in chart.aliases} | dict(loaded)


def missing_charts(trade: Catalog, loaded: Mapping[str, Chart]) -> list[Problem]:
    """Return every kind that names a chart which is not there."""
    known = named(loaded)
    return [
        Problem("kinds.yaml", f"kinds.{code}.chart", f"no chart called {kind.chart}{did_you_mean(kind.chart, known)}")
        for code, kind in trade.kinds.items()
        if kind.chart and kind.chart not in known
    ]


def chart_of(kind: Kind, options: Mapping[str, str]) -> Chart | None:
    """Return the chart of a kind: one made for the kind, else the one it names, else None.

    A chart made for one choice of its options goes first: horn_single with key=Bb, euphonium with clef=treble.
    """
    for code, choice in options.items():
        found = charts().get(f"{kind.code} {code}={choice}")
        if found:
            return found
    return charts().get(kind.code) or charts().get(kind.chart)


def _chart(reader: Reader, *, code: str, raw: Mapping[str, Any]) -> Chart | None:
    """Read one chart; None if something of it was noted."""
    data = raw[code]
    if isinstance(data, dict) and "like" in data:
        base = raw.get(data["like"])
        if not isinstance(base, dict):
            reader.note(f"{code}.like", f"no chart called {data['like']}{did_you_mean(str(data['like']), raw)}")
            return None
        data = _like(base, data)
    if not isinstance(data, dict) or data.get("model") not in BUILDERS:
        reader.note(f"{code}.model", f"expected one of {', '.join(BUILDERS)}")
        return None
    shape, build = BUILDERS[data["model"]]
    before = len(reader.problems)
    if isinstance(data.get("notes"), dict):
        data = {**data, "notes": {note: _pressed(entry) for note, entry in data["notes"].items()}}
    parsed = reader.entry(shape, data, code)
    chart = build(reader, code, parsed) if parsed else None
    return chart if len(reader.problems) == before else None


def _like(base: Mapping[str, Any], data: Mapping[str, Any]) -> dict[str, Any]:
    """Lay a chart over the one it is like: keys, holes and notes add up, the rest replaces."""
    parts: dict[str, Any] = {
        key: {**base.get(key, {}), **data[key]} for key in ("closes", "opens", "notes") if key in data
    }
    if "more_holes" in data:
        parts["holes"] = [*base.get("holes", ()), *data["more_holes"]]
    merged = {**base, "aliases": [], **data, **parts}
    return {key: value for key, value in merged.items() if key not in {"like", "more_holes"}}


def _pressed(entry: Any) -> list[Any]:
    """Return the fingerings of one note as a list of mappings: a text is what is pressed."""
    return [{"press": one} if isinstance(one, str) else one for one in (entry if isinstance(entry, list) else [entry])]


def combo(fingering: str) -> tuple[int, ...]:
    """Return the valves of a fingering without its prefix: "T12" -> (1, 2), "0" -> ()."""
    return tuple(int(valve) for valve in fingering if valve.isdigit() and valve != "0")


def _ascending(usual: Mapping[str, str]) -> dict[str, str]:
    return dict(sorted(usual.items(), key=lambda entry: midi_of(entry[0])))


def _valves(reader: Reader, code: str, data: _Valves) -> BrassChart:
    sides = tuple(Side(one.code, one.prefix, midi_of(one.fundamental), one.partials) for one in data.sides)
    chart = BrassChart(
        **data.head(code),
        sides=sides,
        usual=_ascending(_extended(data, sides=sides)),
        four_valves=data.four_valves,
        clef=data.clef,
        throws=tuple(
            Throw(one.valve, one.option, one.cannot, tuple(map(combo, one.cures)), one.travel_mm) for one in data.throws
        ),
        tuning=data.tuning,
    )
    fall = {1: 2, 2: 1, 3: 3, 4: 5}
    for note, fingering in chart.usual.items():
        key = f"{code}.usual.{note}"
        side = next((side for side in chart.sides if side.prefix == fingering.rstrip("01234")), None)
        if side is None:
            reader.note(key, f"{fingering!r} belongs to no side")
            continue
        target = midi_of(note) + sum(fall[valve] for valve in combo(fingering))
        if target not in open_notes(fundamental=side.fundamental, partials=side.partials).values():
            reader.note(key, f"{fingering!r} lands on no partial")
    return chart


def _extended(entry: _Valves, *, sides: Sequence[Side]) -> dict[str, str]:
    """Fill the range ``extend``: from the nearest open note above, the smallest drop that a fingering gives."""
    known = {midi_of(note): (note, fingering) for note, fingering in entry.usual.items()}
    low, high = (midi_of(note) for note in entry.extend or ("C4", "B3"))
    opens = open_notes(fundamental=sides[0].fundamental, partials=sides[0].partials).values() if sides else ()
    for midi in range(low, high + 1):
        drops = [above - midi for above in opens if 0 <= above - midi in DROPS]
        if midi not in known and drops:
            name = name_of(midi)
            if entry.spelling == "flats":
                name = _FLATS.get(name[:-1], name[:-1]) + name[-1]
            known[midi] = (name, sides[0].prefix + DROPS[min(drops)])
    return dict(known.values())


def _slide(reader: Reader, code: str, entry: _Slide) -> SlideChart:
    chart = SlideChart(
        **entry.head(code),
        fundamental=midi_of(entry.fundamental),
        partials=entry.partials,
        usual=_ascending({**entry.usual, **entry.more}),
        tuning=entry.tuning,
        attachment=entry.attachment,
        second_attachment=entry.second_attachment,
    )
    model = SlideModel(chart=chart, levers="TG", readings=())
    for note, position in chart.usual.items():
        if position not in {way.fingering for way in model.ways(note)}:
            reader.note(f"{code}.usual.{note}", f"position {position} lands on no partial")
    return chart


def _holes(reader: Reader, code: str, entry: _Holes) -> HoleChart:
    chart = HoleChart(
        **entry.head(code),
        holes=entry.holes,
        end=entry.end,
        closes=entry.closes,
        opens=entry.opens,
        fingerings={},
        joints=entry.joints,
    )
    known = {hole.id for hole in chart.holes}
    tables = {
        "closes": entry.closes,
        "opens": entry.opens,
        "joints": {part: (hole,) for part, hole in entry.joints.items()},
    }
    for table, entries in tables.items():
        for key, ids in entries.items():
            for missing in sorted(set(ids) - known):
                reader.note(f"{code}.{table}.{key}", f"no hole called {missing}{did_you_mean(missing, known)}")
    notes = _all_notes(reader, code, entry)
    fingerings = {}
    for note in sorted(notes, key=midi_of):
        made = [_fingering(reader, chart, note=note, press=one, entry=entry) for one in notes[note]]
        fingerings[note] = tuple(one for one in made if one is not None)
    return replace(chart, fingerings=fingerings)


def _all_notes(reader: Reader, code: str, entry: _Holes) -> dict[str, list[_Press]]:
    """Return note -> what is pressed, with the upper registers written out from the notes below."""
    notes = {note: list(entries) for note, entries in entry.notes.items()}
    by_midi = {midi_of(note): entries for note, entries in notes.items()}
    spelled = {midi_of(note) % 12: note[:-1] for note in notes}
    for number, rule in enumerate(entry.registers, start=1):
        for midi in range(midi_of(rule.from_), midi_of(rule.to) + 1):
            below = by_midi.get(midi - rule.down)
            if below is None:
                reader.note(f"{code}.registers.{number}", f"{name_of(midi - rule.down)} has no fingering to start from")
                continue
            notes[f"{spelled.get(midi % 12, name_of(midi)[:-1])}{midi // 12 - 1}"] = [
                _Press(f"{rule.press} {one.press}", rule.vents, rule.register, one.forked, one.backed) for one in below
            ]
    return notes


def _fingering(reader: Reader, chart: HoleChart, *, note: str, press: _Press, entry: _Holes) -> Fingering | None:
    """Work out which holes seal and which open; None if the keys or vents are wrong, which is noted."""
    keys, vents = tuple(press.press.split()), frozenset(press.vents)
    at = f"{chart.code}.notes.{note}"
    known = {*chart.closes, *chart.opens}
    unknown = [key for key in keys if key not in known]
    for key in unknown:
        reader.note(at, f"no key called {key}{did_you_mean(key, known)}")
    for vent in sorted(vents - {hole.id for hole in chart.holes}):
        reader.note(at, f"no hole called {vent}")
    shut_by_keys = {hole for key in keys for hole in chart.closes.get(key, ())}
    opened = {hole for key in keys for hole in chart.opens.get(key, ())}
    shut = [
        hole
        for hole in chart.holes
        if hole.id in shut_by_keys or hole.rest is Rest.JOINT or (hole.rest is Rest.CLOSED and hole.id not in opened)
    ]
    if not vents.isdisjoint(hole.id for hole in shut):
        reader.note(at, "a vent of it is shut by its own keys")
    if unknown:
        return None
    sounds_from, must_seal = chart.end, []
    for hole in chart.holes:
        if hole in shut and (sounds_from == chart.end or (press.forked and hole.id in shut_by_keys)):
            must_seal.append(hole.id)
        elif hole not in shut and hole.id not in vents and sounds_from == chart.end:
            sounds_from = hole.id
    return Fingering(
        press=tuple(entry.says.get(key, key) for key in keys),
        keys=keys,
        sounds_from=sounds_from,
        must_seal=frozenset(must_seal),
        must_open=vents | ({sounds_from} - {chart.end}),
        vents=vents,
        register=press.register,
        backed=max(press.backed, entry.backed, key=list(Backing).index),
    )


BUILDERS: Mapping[Any, tuple[type, Callable[[Reader, str, Any], Chart]]] = {
    "valves": (_Valves, _valves),
    "slide": (_Slide, _slide),
    "holes": (_Holes, _holes),
}
