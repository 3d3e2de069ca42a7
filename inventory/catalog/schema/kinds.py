"""A kind of instrument: its walk, its range, what it costs, what goes with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from typing import Annotated

from msgspec import Meta

from core.translation import gettext as _
from inventory.catalog.schema.care import NO_CARD, CareCard
from inventory.catalog.schema.entries import Entry, Selective, Sourced
from inventory.catalog.schema.parts import Fault, Part
from inventory.catalog.schema.words import (
    Family,
    Hygiene,
    In,
    NoteRange,
    Origin,
    PlayingModel,
    Severity,
    Size,
    Span,
    Texts,
    Years,
)


@dataclass(frozen=True, slots=True)
class AccessorySpec(Entry):
    count: Annotated[int, Meta(ge=1, le=20)] = 1
    essential: bool = False  # without it the instrument cannot be played or protected: mouthpiece, case, neck, ligature
    hygiene: Hygiene = Hygiene.NONE  # between two players
    between_players: str = ""  # what is done with it then, as somebody ticks it


@dataclass(frozen=True, slots=True)
class Option(Entry):
    """What varies between instruments of one kind: valves, size, key, body."""

    choices: Texts
    default: str


@dataclass(frozen=True, slots=True)
class PlayTest(Sourced):
    """What to play and what counts (trade practice, by family)."""

    code: str
    play: Texts
    passes: Texts
    limits: Texts
    fails: Texts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)  # hashed by identity: caches may key on it
class Kind:
    """A kind of instrument."""

    code: str
    name: str  # "Clarinet in Bb", "Horn, double"
    aliases: Texts  # words a spreadsheet may use for it, lower case
    family: Family
    layout: Annotated[str, In("layouts")]
    silhouette: str = ""  # name of its small drawing; "" takes its layout's
    features: Annotated[Texts, In("features")] = ()  # its layout's and its own
    outline: str = ""  # its drawing in fixtures/pictures, its layout's if it says none
    size: Size = Size.SMALL
    model: PlayingModel
    chart: str = ""  # code of the fingering chart, "" if none
    key: str = ""
    sounds: Annotated[int | None, Meta(description="semitones as a whole number, or null")]  # from written to sounding
    clef: str  # treble, bass, alto, neutral
    sounding: NoteRange | None = None
    first_year: NoteRange | None = None  # written
    levels: Mapping[str, NoteRange]  # first_year, second_year, concert, marching: written range
    starts: str = ""
    prices: Mapping[str, Span]  # student, intermediate
    life_years: Years
    upkeep: Decimal
    repair_limit: Decimal  # share of replacement value beyond which repair is not worth it
    accessories: tuple[AccessorySpec, ...] = ()
    options: tuple[Option, ...] = ()
    parts: tuple[Part, ...]
    play_test: Annotated[str, In("play_tests")]
    care: Texts  # short tips for the public tag page
    origin: Origin = Origin.DEFAULT
    card: CareCard = NO_CARD

    def fits(self, one: Selective) -> bool:
        """Whether this kind is among those a part, a remedy or an interval is for."""
        return (
            (not one.kinds or self.code in one.kinds)
            and (not one.only_if or one.only_if in self.features)
            and one.unless not in self.features
        )

    def kept_in_by(self, fault: Fault, *, part: Part, severity: Severity) -> str:
        """Return why such a fault must be repaired before the instrument is issued; "" if it need not."""
        marks = (one for one in fault.never_issue if self.fits(one) and one.holds(part, severity))
        return next((one.because for one in marks), "")

    def between_players(self, *, aids: bool = True) -> tuple[tuple[str, str], ...]:
        """Return (code, what is done) for everything cleaned or thrown away between two players.

        ``aids`` are the things one cleans with.
        """
        cleaned = (spec for spec in self.accessories if spec.hygiene and (aids or spec.hygiene is not Hygiene.AID))
        besides = ((f"besides-{number}", words) for number, words in enumerate(self.card.between_players))
        return (*besides, *((spec.code, spec.between_players) for spec in cleaned))

    def part(self, code: str) -> Part:
        """Return the part with this code; KeyError if the kind has none."""
        for part in self.parts:
            if part.code == code:
                return part
        raise KeyError(code)

    def where(self, part: str, place: str = "") -> str:
        """Name a part, or a place of it, as a sentence begins: "Third valve slide", "Pistons, valve 2".

        Codes that the catalog no longer has stay readable, because old rows keep them.
        """
        stop = next((one for one in self.parts if one.code == part), None)
        words = stop.at(place) if stop else f"{part.replace('_', ' ')} {place}".rstrip()
        return words[:1].upper() + words[1:]

    def chosen(self, options: Mapping[str, str]) -> dict[str, str]:
        """Return a choice for every option: what these say, else its default."""
        return {option.code: option.default for option in self.options} | dict(options)

    def has_chosen(self, only_with: str, options: Mapping[str, str]) -> bool:
        """Whether an instrument with these options has "option=choice"; always for "".

        An option that is not named counts as its default.
        """
        if not only_with:
            return True
        code, _, choice = only_with.partition("=")
        return self.chosen(options).get(code) == choice

    def has(self, part: str, place: str = "") -> bool:
        """Whether it has the part, and the place at it if one is named."""
        return any(
            one.code == part and (not place or any(spot.code == place for spot in one.places)) for one in self.parts
        )

    def built(self, options: Mapping[str, str]) -> Kind:
        """Return the kind as built with these options, which become its defaults: the same object every time."""
        return _built(self, tuple(sorted(options.items())))

    def parts_for(self, options: Mapping[str, str]) -> tuple[Part, ...]:
        """Return the walk of one instrument: parts and places its options rule out are left out."""
        return _parts_for(self, tuple(sorted(options.items())))


@lru_cache(maxsize=1000)
def _parts_for(kind: Kind, options: tuple[tuple[str, str], ...]) -> tuple[Part, ...]:
    chosen = kind.chosen(dict(options))

    def is_there(only_with: str) -> bool:
        return kind.has_chosen(only_with, chosen)

    return tuple(
        replace(part, places=tuple(place for place in part.places if is_there(place.only_with)))
        for part in kind.parts
        if is_there(part.only_with)
    )


@lru_cache(maxsize=1000)
def _built(kind: Kind, options: tuple[tuple[str, str], ...]) -> Kind:
    chosen = dict(options)
    parts = kind.parts_for(chosen)
    built = tuple(replace(one, default=chosen.get(one.code, one.default)) for one in kind.options)
    is_same = parts == kind.parts and built == kind.options
    return kind if is_same else replace(kind, parts=parts, options=built)


@lru_cache(maxsize=100)
def lost_kind(code: str) -> Kind:
    """Return what stands in for a kind that the catalog no longer has: no parts, no notes, no prices.

    Instruments outlive the entries of a district's own catalog, and their pages and papers must still answer.
    """
    return Kind(
        code=code,
        name=_("%(kind)s (no longer in the catalog)", kind=code.replace("_", " ").capitalize()),
        aliases=(),
        family=Family.PERCUSSION,  # the family that is drawn without an air path
        layout="",
        outline="case",
        model=PlayingModel.TABLE,
        sounds=None,
        clef="treble",
        levels={},
        prices={},
        life_years=(10, 20),
        upkeep=Decimal(0),
        repair_limit=Decimal("0.5"),
        parts=(),
        play_test="",
        care=(),
    )
