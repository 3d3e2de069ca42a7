"""The picture of a kind: its parts as stations along the drawn air path, each marked by its worst finding."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache, partial
from typing import Literal

from core.translation import gettext as _
from core.translation import gettext_noop
from inventory.catalog.schema import Family, Kind, Part, PlayingModel
from inventory.rules.picture import brass, upright, woodwind
from inventory.rules.picture.art import background
from inventory.rules.picture.labels import labelled, overlaps, station_box
from inventory.rules.picture.shapes import Caption, Drawing, Figure, Mark, Station
from inventory.rules.verdict import EffectGroup

RAIL_STEP = 42.0
Width = Literal["phone", "wide", "small"]
WIDTHS: Mapping[Width, float] = {"phone": 328.0, "wide": 640.0, "small": 328.0}
Form = Callable[..., Figure]  # (parts, *, width)
OFF_ROLES = {"case", "finish", "brace", "stand", "frame"}  # seen on the walk, but no air goes through them
SIGNS = {
    EffectGroup.STOPS: gettext_noop("stops playing"),
    EffectGroup.LIMITS: gettext_noop("limits playing"),
    EffectGroup.LOOKS: gettext_noop("looks only"),
}


def form_of(kind: Kind) -> Form:
    """Return the function that draws this kind's parts."""
    roles = {part.role for part in kind.parts}
    if kind.family is Family.BRASS:
        if kind.model is PlayingModel.SLIDE:
            has_attachment = roles & (brass.VALVE_INSIDE - {"valve_spring", "felt"})
            return partial(background, "trombone_attachment" if has_attachment else "trombone")
        if kind.model is PlayingModel.DOUBLE_HORN or ("rotor" in roles and "piston" not in roles):
            return partial(brass.horn, kind)
        held_up = brass.weight_of(kind) > 1 and "marching" not in kind.code
        return partial(upright.upright if held_up else brass.piston, kind)
    if kind.family is Family.WOODWIND:
        if any("boot" in part.code for part in kind.parts):
            return woodwind.folded
        return woodwind.curved if {"body_metal", "octave_mech", "neck"} <= roles else woodwind.straight
    if kind.family is Family.STRING:
        name = "strings"
    elif "bar" in roles:
        name = "bars_with_resonators" if "resonator" in roles else "bars"
    elif "plate" in roles and "head" not in roles:
        name = "plates"
    else:
        name = "kettle" if roles & {"pedal", "tuning_gauge"} else "drum"
    return partial(background, name)


def air_path(*, kind: Kind, marks: Mapping[str, Mark], width: Width) -> Drawing:
    """Return the drawing of a kind with these marks by part code.

    Raises KeyError for a mark at a part the kind does not have.
    """
    for code in marks:
        kind.part(code)
    page = WIDTHS[width]
    figure = figure_of(kind, width=page)
    stations = stations_of(kind, figure, marks)
    captions = tuple(c for c in figure.captions if not any(overlaps(c.box, station_box(s)) for s in stations))
    labels, height = (
        ((), figure.height)
        if width == "small"
        else labelled(stations, captions, keep=figure.keep, width=page, height=figure.height, names=width == "wide")
    )
    return Drawing(
        description=described(stations),
        width=page,
        height=round(height, 1),
        strokes=tuple(figure.strokes),
        stations=stations,
        labels=labels,
        captions=captions,
        rail=round(figure.rail, 1),
    )


@lru_cache(maxsize=400)
def figure_of(kind: Kind, *, width: float) -> Figure:
    """Return the kind's drawing without marks, remembered: it is the same for every instrument of the kind."""
    rail = [part for part in kind.parts if part.role in OFF_ROLES]
    figure = form_of(kind)([part for part in kind.parts if part not in rail], width=width)
    figure.rail = figure.height
    add_rail(figure, rail + [part for part in kind.parts if part not in rail and part.code not in figure.spots])
    return figure


def stations_of(kind: Kind, figure: Figure, marks: Mapping[str, Mark]) -> tuple[Station, ...]:
    """Return the parts as stations where the figure has put them."""
    return tuple(
        Station(
            code=part.code,
            number=number,
            name=part.name,
            x=round(figure.spots[part.code][0], 1),
            y=round(figure.spots[part.code][1], 1),
            group=marks[part.code].group if part.code in marks else None,
            text=marks[part.code].text if part.code in marks else "",
        )
        for number, part in enumerate(kind.parts, start=1)
    )


def add_rail(figure: Figure, parts: Sequence[Part]) -> None:
    """Stand what the air does not pass through in a row below the picture."""
    if not parts:
        return
    figure.captions.append(Caption(4, figure.height + 34, _("Other parts")))
    per_row = int((figure.width - 76) // RAIL_STEP)
    for i, part in enumerate(parts):
        row, column = divmod(i, per_row)
        figure.spots[part.code] = (80 + column * RAIL_STEP, figure.height + 30 + row * RAIL_STEP)
    figure.height += 62 + RAIL_STEP * ((len(parts) - 1) // per_row)


def described(stations: Sequence[Station]) -> str:
    """Return the picture in one or two sentences."""
    found = [station for station in stations if station.group]
    if not found:
        return _("%(all)s stations in the order of inspection, none with a finding.", all=len(stations))
    said = "; ".join(f"{station.said} ({_(SIGNS[station.group])})" for station in found if station.group)
    return _(
        "%(all)s stations in the order of inspection, %(found)s with a finding: %(said)s.",
        all=len(stations), found=len(found), said=said,
    )  # fmt: skip
