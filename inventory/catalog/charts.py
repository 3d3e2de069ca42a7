"""Read the fingering charts from ``fixtures/catalog/charts`` and work each fingering out.

A file holds charts by code. A chart that is ``like`` another takes everything from it that it does not say itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from inventory.catalog.chart_schema import (
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
from inventory.catalog.schema import Kind
from inventory.rules.pitch import midi_of, name_of
from inventory.rules.playing.partials import open_notes
from inventory.rules.playing.slides import SlideModel

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "catalog" / "charts"
# Semitones that a fingering lowers the open note by, in the order the trade prefers them.
DROPS = {0: "0", 1: "2", 2: "1", 3: "12", 4: "23", 5: "13", 6: "123"}
_FLATS = {"C#": "Db", "F#": "Gb"}


class ChartError(ValueError):
    """A chart that cannot be used: says which chart, which key and why."""

    def __init__(self, *, chart: str, key: str, reason: str) -> None:
        super().__init__(f"chart {chart}, {key}: {reason}")


def load_charts(folder: Path = FOLDER, *, more: Path | None = None) -> dict[str, Chart]:
    """Return the charts of a folder by code; those of ``more`` (a district's own) replace or add."""
    raw: dict[str, dict[str, Any]] = {}
    for place in (folder, more):
        if place is None or not place.is_dir():
            continue
        for file in sorted(place.glob("*.yaml")):
            raw.update(yaml.safe_load(file.read_text(encoding="utf-8")) or {})
    return {code: _chart(code=code, raw=raw) for code in raw}


@cache
def charts() -> Mapping[str, Chart]:
    """Return the charts of this installation by code and by alias, read once."""
    own = override_folder()
    loaded = load_charts(more=own / "charts" if own else None)
    by_name = {alias: chart for chart in loaded.values() for alias in chart.aliases}
    return by_name | loaded


def chart_of(kind: Kind, options: Mapping[str, str]) -> Chart | None:
    """Return the chart of a kind: one made for the kind, else the one it names, else None.

    A chart made for one choice of its options goes first: horn_single with key=Bb, euphonium with clef=treble.
    """
    for code, choice in options.items():
        found = charts().get(f"{kind.code} {code}={choice}")
        if found:
            return found
    return charts().get(kind.code) or charts().get(kind.chart)


def _chart(*, code: str, raw: Mapping[str, Mapping[str, Any]]) -> Chart:
    data = dict(raw[code])
    if "like" in data:
        if data["like"] not in raw:
            raise ChartError(chart=code, key="like", reason=f"no chart {data['like']!r}")
        base = raw[data["like"]]
        more: dict[str, Any] = {
            key: {**base.get(key, {}), **data[key]} for key in ("closes", "opens", "notes") if key in data
        }
        holes = [*base.get("holes", ()), *data.get("more_holes", ())]
        data = {**base, "aliases": (), **data, **more, "holes": holes}
    builders: dict[str, Callable[[str, Mapping[str, Any]], Chart]]
    builders = {"valves": _brass, "slide": _slide, "holes": _holes}
    build = builders.get(str(data.get("model")))
    if build is None:
        raise ChartError(chart=code, key="model", reason="must be valves, slide or holes")
    try:
        return build(code, data)
    except KeyError as error:
        raise ChartError(chart=code, key=str(error.args[0]), reason="is missing or names nothing") from error


def _head(code: str, data: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "code": code,
        "name": data["name"],
        "verified": bool(data["verified"]),
        "origin": data["origin"],
        "aliases": tuple(data.get("aliases", ())),
    }


def _tuning(data: Mapping[str, Any]) -> tuple[TuningSlide, ...]:
    return tuple(TuningSlide(**entry) for entry in data.get("tuning", ()))


def combo(fingering: str) -> tuple[int, ...]:
    """Return the valves of a fingering without its prefix: "T12" -> (1, 2), "0" -> ()."""
    return tuple(int(valve) for valve in fingering if valve.isdigit() and valve != "0")


def _brass(code: str, data: Mapping[str, Any]) -> BrassChart:
    sides = tuple(
        Side(
            code=side.get("code", ""),
            prefix=side.get("prefix", ""),
            fundamental=midi_of(side["fundamental"]),
            partials=tuple(side["partials"]),
        )
        for side in data["sides"]
    )
    usual = dict(data["usual"])
    if "extend" in data:
        usual = _extended(usual, sides=sides, span=data["extend"], flats=data.get("spelling") == "flats")
    chart = BrassChart(
        **_head(code, data),
        sides=sides,
        usual=_ascending(usual),
        four_valves=dict(data.get("four_valves", {})),
        clef=data.get("clef", ""),
        throws=tuple(
            Throw(
                valve=entry["valve"],
                option=entry.get("option", ""),
                cannot=tuple(entry.get("cannot", ())),
                cures=tuple(combo(cure) for cure in entry["cures"]),
            )
            for entry in data.get("throws", ())
        ),
        tuning=_tuning(data),
    )
    _check_brass(chart)
    return chart


def _extended(usual: Mapping[str, str], *, sides: Sequence[Side], span: Sequence[str], flats: bool) -> dict[str, str]:
    """Fill a range: from the nearest open note above, the smallest drop that a fingering gives."""
    known = {midi_of(note): (note, fingering) for note, fingering in usual.items()}
    opens = open_notes(fundamental=sides[0].fundamental, partials=sides[0].partials).values()
    for midi in range(midi_of(span[0]), midi_of(span[1]) + 1):
        drops = [above - midi for above in opens if 0 <= above - midi in DROPS]
        if midi not in known and drops:
            name = name_of(midi)
            if flats:
                name = _FLATS.get(name[:-1], name[:-1]) + name[-1]
            known[midi] = (name, sides[0].prefix + DROPS[min(drops)])
    return dict(known.values())


def _check_brass(chart: BrassChart) -> None:
    """Refuse a fingering that lands on no partial of its tube."""
    fall = {1: 2, 2: 1, 3: 3, 4: 5}
    for note, fingering in chart.usual.items():
        side = next((side for side in chart.sides if side.prefix == fingering.rstrip("01234")), None)
        if side is None:
            raise ChartError(chart=chart.code, key=note, reason=f"{fingering!r} belongs to no side")
        target = midi_of(note) + sum(fall[valve] for valve in combo(fingering))
        if target not in open_notes(fundamental=side.fundamental, partials=side.partials).values():
            raise ChartError(chart=chart.code, key=note, reason=f"{fingering!r} lands on no partial")


def _slide(code: str, data: Mapping[str, Any]) -> SlideChart:
    chart = SlideChart(
        **_head(code, data),
        fundamental=midi_of(data["fundamental"]),
        partials=tuple(data["partials"]),
        usual=_ascending({**data["usual"], **data.get("more", {})}),
        tuning=_tuning(data),
        attachment=int(data.get("attachment", 5)),
        second_attachment=int(data.get("second_attachment", 4)),
    )
    model = SlideModel(chart=chart, levers="TG", readings=())
    for note, position in chart.usual.items():
        if position not in {way.fingering for way in model.ways(note)}:
            raise ChartError(chart=code, key=note, reason=f"position {position} lands on no partial")
    return chart


def _ascending(usual: Mapping[str, str]) -> dict[str, str]:
    return dict(sorted(usual.items(), key=lambda entry: midi_of(entry[0])))


def _holes(code: str, data: Mapping[str, Any]) -> HoleChart:
    holes = tuple(Hole(id=hole["id"], rest=Rest(hole["rest"]), name=hole.get("name", "")) for hole in data["holes"])
    chart = HoleChart(
        **_head(code, data),
        holes=holes,
        end=data["end"],
        closes={key: tuple(ids) for key, ids in data["closes"].items()},
        opens={key: tuple(ids) for key, ids in data["opens"].items()},
        fingerings={},
        joints=dict(data.get("joints", {})),
    )
    known = {hole.id for hole in holes}
    for key, ids in (*chart.closes.items(), *chart.opens.items(), *((p, (j,)) for p, j in chart.joints.items())):
        if not known.issuperset(ids):
            raise ChartError(chart=code, key=key, reason=f"no hole {sorted(set(ids) - known)}")
    notes = _all_notes(data)
    says = data.get("says", {})
    fingerings = {
        note: tuple(_fingering(chart, note=note, raw=raw, says=says) for raw in notes[note])
        for note in sorted(notes, key=midi_of)
    }
    return HoleChart(
        **_head(code, data),
        holes=holes,
        end=chart.end,
        closes=chart.closes,
        opens=chart.opens,
        fingerings=fingerings,
        joints=chart.joints,
    )


def _all_notes(data: Mapping[str, Any]) -> dict[str, list[dict[str, Any]]]:
    """Return note -> raw fingerings, with the upper registers written out from the notes below."""
    notes: dict[str, list[dict[str, Any]]] = {}
    for note, entry in data["notes"].items():
        entries = entry if isinstance(entry, list) else [entry]
        notes[note] = [dict(one) if isinstance(one, dict) else {"press": one} for one in entries]
    by_midi = {midi_of(note): (note, entries) for note, entries in notes.items()}
    spelled = {midi % 12: note[:-1] for midi, (note, _) in by_midi.items()}
    for rule in data.get("registers", ()):
        for midi in range(midi_of(rule["from"]), midi_of(rule["to"]) + 1):
            _, below = by_midi[midi - rule["down"]]
            vents = list(rule.get("vents", ()))
            keys = rule.get("press", "")
            notes[f"{spelled[midi % 12]}{midi // 12 - 1}"] = [
                {**raw, "press": f"{keys} {raw['press']}", "vents": vents, "register": rule["register"]}
                for raw in below
            ]
    return notes


def _fingering(chart: HoleChart, *, note: str, raw: Mapping[str, Any], says: Mapping[str, str]) -> Fingering:
    press = tuple(str(raw["press"]).split())
    unknown = [key for key in press if key not in chart.closes and key not in chart.opens]
    if unknown:
        raise ChartError(chart=chart.code, key=note, reason=f"no key {unknown}")
    shut_by_keys = {hole for key in press for hole in chart.closes.get(key, ())}
    opened = {hole for key in press for hole in chart.opens.get(key, ())}
    vents = frozenset(raw.get("vents", ()))
    shut = [
        hole
        for hole in chart.holes
        if hole.id in shut_by_keys or hole.rest is Rest.JOINT or (hole.rest is Rest.CLOSED and hole.id not in opened)
    ]
    if not vents.isdisjoint(hole.id for hole in shut):
        raise ChartError(chart=chart.code, key=note, reason="a vent of it is shut by its own keys")
    sounds_from, above = chart.end, []
    for hole in chart.holes:
        if hole in shut:
            above.append(hole.id)
        elif hole.id not in vents:
            sounds_from = hole.id
            break
    return Fingering(
        press=tuple(says.get(key, key) for key in press),
        keys=press,
        sounds_from=sounds_from,
        must_seal=frozenset(above),
        must_open=vents | ({sounds_from} - {chart.end}),
        vents=vents,
        register=int(raw.get("register", 1)),
    )
