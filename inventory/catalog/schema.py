"""The trade catalog as frozen, typed values: what a kind is made of, what can go wrong, what puts it right.

Pure: standard library only, so that every rule may import it. ``load.py`` fills these from
``fixtures/catalog/*.yaml`` and refuses what does not fit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum

from inventory.catalog.care_schema import NO_CARD, CareCard, CareInterval


class Severity(StrEnum):
    """How bad a finding is, in the order of badness."""

    LIGHT = "light"
    MODERATE = "moderate"
    SEVERE = "severe"

    @property
    def rank(self) -> int:
        return tuple(Severity).index(self)


class Effect(StrEnum):
    """What a finding does, from nothing but looks to hurting somebody."""

    LOOKS_ONLY = "looks_only"
    RISKS = "risks"
    SLOWS = "slows"
    BENDS_PITCH = "bends_pitch"
    LOSES_NOTES = "loses_notes"
    STOPS_SOUND = "stops_sound"
    UNSAFE = "unsafe"


class Origin(StrEnum):
    """Where a figure comes from; shown beside it, never as an address."""

    PUBLISHED = "published"
    COMMON = "common_practice"
    DEFAULT = "shop_default"


class Family(StrEnum):
    BRASS = "brass"
    WOODWIND = "woodwind"
    PERCUSSION = "percussion"
    STRING = "string"


class PlayingModel(StrEnum):
    """How the notes of a kind are computed from findings."""

    PISTON = "piston"  # valves lengthen one tube (rotary tubas too)
    DOUBLE_HORN = "double_horn"  # two sides chosen by a thumb valve
    SLIDE = "slide"  # hand slide, with or without an F attachment
    HOLES = "holes"  # keyed woodwind
    BARS = "bars"  # one bar a note
    TABLE = "table"  # drums, strings: functions, by the effect table


class Wet(StrEnum):
    OK = "ok"
    BRIEF = "brief"
    NO = "no"


class Bath(StrEnum):
    OFF = "off"
    STAY = "stay"
    NONE = "none"  # this family has no bath


class Skill(StrEnum):
    """The bench that a method needs."""

    BASIC = "basic"
    ADVANCED = "advanced"
    SPECIALIST = "specialist"


class Cause(StrEnum):
    """What a fault usually comes from when it is new at return."""

    WEAR = "wear"
    DAMAGE = "damage"
    EITHER = "either"


@dataclass(frozen=True, slots=True)
class Place:
    """One of several like things at a part: a pad, a valve. Woodwind codes are the hole ids of the chart."""

    code: str
    name: str
    aliases: tuple[str, ...] = ()
    only_with: str = ""  # "option=choice" that an instrument must have to own this place ("valves=4"), or ""


@dataclass(frozen=True, slots=True)
class Part:
    """A stop on the inspection walk, in air-path order."""

    code: str  # snake case, after the part's name: third_valve_slide, main_tuning_slide, piston
    name: str  # as said: "third valve slide"
    role: str
    look_for: tuple[str, ...] = ()
    test: str = ""
    wet: Wet = Wet.NO
    wet_note: str = ""
    bath: Bath = Bath.NONE
    places: tuple[Place, ...] = ()
    aliases: tuple[str, ...] = ()
    drawn_on: str = ""  # code of the part this one branches off in the drawing (a valve slide off its piston), or ""
    in_bore: bool = True  # the air passes through it (False: case, finish, braces, levers)
    only_with: str = ""  # "option=choice" that an instrument must have to own this part, or ""
    valve: str = ""  # the valve that opens this slide ("3"), where the part is one slide; else ""
    repeats_places: bool = False  # its places are those of other parts (springs): a place named alone means the other


@dataclass(frozen=True, slots=True)
class Role:
    """What a part does; the join between parts, faults and methods."""

    code: str
    name: str
    faults: tuple[str, ...]  # most likely first; missing_part is always among them
    missing: Effect  # what the absence of such a part does


@dataclass(frozen=True, slots=True)
class Fault:
    """What can be wrong at a part."""

    code: str
    name: str  # as said: "stuck or seized slide"
    effects: Mapping[Severity, Effect]
    words: Mapping[Severity, str]  # what light / moderate / severe mean for this fault
    test: str  # what to do to find out
    accept: str  # when it is good enough
    cause: Cause
    cost_of_harm: str = ""
    origin: Origin = Origin.DEFAULT


@dataclass(frozen=True, slots=True)
class Remedy:
    """Methods to try in turn for a fault at a role, gentlest first; the first is planned, the rest are fallbacks."""

    fault: str
    roles: tuple[str, ...]  # empty: any role of the fault
    methods: tuple[str, ...]
    severities: tuple[Severity, ...] = tuple(Severity)
    kinds: tuple[str, ...] = ()  # empty: any kind
    layouts: tuple[str, ...] = ()  # empty: any layout


@dataclass(frozen=True, slots=True)
class PartNeed:
    """A consumable or part that a method uses up, with a low and a high price in dollars for the quantity."""

    code: str
    quantity: Decimal
    low: Decimal
    high: Decimal


@dataclass(frozen=True, slots=True)
class Method:
    """One bench operation. Minutes are hands-on; ``wait_h`` is clock time that needs nobody."""

    code: str
    name: str  # imperative, as a tech says it: "Bathe in lukewarm soapy water"
    fixes: tuple[str, ...]
    minutes: tuple[int, int, int]  # low, likely, high
    wait_h: Decimal
    parts: tuple[PartNeed, ...]
    tools: tuple[str, ...]
    skill: Skill
    hazards: tuple[str, ...]
    phase: int  # 1 intake … 9 test
    tags: tuple[str, ...]  # heat flame oil force wet chemical opens solder dent cork pad lubricate clean test cosmetic
    setup: str = ""  # set-up shared between steps: "bath", "torch", "glue" …
    whole: bool = False  # done once for the whole instrument, whatever the number of findings
    ladder: str = ""  # rungs of this ladder take the place of one step
    needs: tuple[str, ...] = ()  # methods always done before it where the kind has their role
    after: tuple[str, ...] = ()  # methods done before it only if both are planned anyway
    put_back: tuple[str, ...] = ()  # methods that put back what it took apart, always done before the tests
    roles: tuple[str, ...] = ()  # a needed method is added only if the kind has one of these roles; empty: always
    watch: tuple[str, ...] = ()  # what to watch for, a few short sentences
    recheck: tuple[str, ...] = ()  # faults to look for again when done
    fee: tuple[Decimal, Decimal] | None = None  # outside shop's fee, low and high
    origin: Origin = Origin.DEFAULT


@dataclass(frozen=True, slots=True)
class Rung:
    """One try at a stuck part. ``p`` is the chance that it frees it given that every gentler rung failed."""

    code: str
    name: str
    p: float
    minutes: tuple[int, int, int]
    wait_h: Decimal
    harm: float  # chance of new damage when done as described
    force: int  # 0 hand … 5 specialist; no rung comes before one of a lower class
    skill: Skill
    tags: tuple[str, ...]
    tools: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()  # methods done before this rung (felts out before a soak)
    after: tuple[str, ...] = ()  # rungs that must come first
    warn: str = ""
    shared_with: str = ""  # a method that, if planned anyway, makes this rung free (the bath)
    fee: tuple[Decimal, Decimal] | None = None
    watch: tuple[str, ...] = ()
    origin: Origin = Origin.DEFAULT


@dataclass(frozen=True, slots=True)
class Ladder:
    code: str
    name: str
    roles: tuple[str, ...]
    rungs: tuple[Rung, ...]
    stop_if: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    harm_cost: Decimal = Decimal(60)  # what one new damage costs to put right, dollars
    freed_words: str = "It moves"  # the button when it worked
    stuck_words: str = "Still stuck"


@dataclass(frozen=True, slots=True)
class Guard:
    """A finding that forbids rungs and methods with a tag on the same part (red rot forbids force)."""

    fault: str
    forbids: tuple[str, ...]  # tags
    because: str
    scope: str = "part"  # "part" or "instrument"
    severities: tuple[Severity, ...] = tuple(Severity)


@dataclass(frozen=True, slots=True)
class OrderRule:
    """Work with a tag in ``first`` comes before work with a tag in ``then``."""

    code: str
    name: str
    first: tuple[str, ...]
    then: tuple[str, ...]
    because: str
    scope: str = "instrument"  # or "part"
    between: tuple[str, ...] = ()  # if set, the rule orders nothing: work in ``then`` may follow work in ``first``
    # only after work with one of these tags (no flame after oil without cleaning)


@dataclass(frozen=True, slots=True)
class Hazard:
    code: str
    name: str
    caution: str
    acknowledge: bool  # asked for once per job before the first step that has it
    origin: Origin = Origin.COMMON


@dataclass(frozen=True, slots=True)
class Consumable:
    code: str
    name: str
    unit: str
    low: Decimal
    high: Decimal
    origin: Origin = Origin.DEFAULT


@dataclass(frozen=True, slots=True)
class Tool:
    code: str
    name: str
    price: Decimal | None
    starter: bool  # part of a first school bench


@dataclass(frozen=True, slots=True)
class AccessorySpec:
    code: str
    name: str
    count: int
    essential: bool  # without it the horn cannot be played or protected: mouthpiece, case, neck, ligature
    hygiene: bool = False  # goes into a mouth: cleaned or thrown away between players


@dataclass(frozen=True, slots=True)
class Option:
    """What varies between instruments of one kind: valves, size, key, body."""

    code: str
    name: str
    choices: tuple[str, ...]
    default: str


@dataclass(frozen=True, slots=True)
class PlayTest:
    """What to play and what counts (trade practice, by family)."""

    code: str
    play: tuple[str, ...]
    passes: tuple[str, ...]
    limits: tuple[str, ...]
    fails: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of instrument."""

    code: str
    name: str  # "Clarinet in Bb", "Horn, double"
    aliases: tuple[str, ...]  # words a spreadsheet may use for it, lower case
    family: Family
    layout: str
    model: PlayingModel
    chart: str  # code of the fingering chart, "" if none
    key: str
    sounds: int | None  # semitones from written to sounding
    clef: str  # treble, bass, alto, neutral
    sounding: tuple[str, str] | None
    first_year: tuple[str, str] | None  # written
    levels: Mapping[str, tuple[str, str]]  # first_year, second_year, concert, marching: written range
    starts: str
    prices: Mapping[str, tuple[Decimal, Decimal]]  # student, intermediate
    life_years: tuple[int, int]
    upkeep: Decimal
    repair_limit: Decimal  # share of replacement value beyond which repair is not worth it
    accessories: tuple[AccessorySpec, ...]
    options: tuple[Option, ...]
    parts: tuple[Part, ...]
    play_test: str
    care: tuple[str, ...]  # short tips for the public tag page
    origin: Origin = Origin.DEFAULT
    card: CareCard = NO_CARD

    def part(self, code: str) -> Part:
        """Return the part with this code; KeyError if the kind has none."""
        for part in self.parts:
            if part.code == code:
                return part
        raise KeyError(code)

    def parts_for(self, options: Mapping[str, str]) -> tuple[Part, ...]:
        """Return the walk of one instrument: parts and places that its options rule out are left out.

        An option that is not named counts as its default.
        """
        chosen = {option.code: option.default for option in self.options} | dict(options)

        def fits(only_with: str) -> bool:
            code, _, choice = only_with.partition("=")
            return not only_with or chosen.get(code) == choice

        return tuple(
            replace(part, places=tuple(place for place in part.places if fits(place.only_with)))
            for part in self.parts
            if fits(part.only_with)
        )

    def has_chosen(self, only_with: str, options: Mapping[str, str]) -> bool:
        """Whether an instrument with these options has "option=choice"; always for ""."""
        code, _, choice = only_with.partition("=")
        chosen = {option.code: option.default for option in self.options} | dict(options)
        return not only_with or chosen.get(code) == choice


@dataclass(frozen=True, slots=True)
class Catalog:
    """Everything the trade knows, by code."""

    kinds: Mapping[str, Kind]
    roles: Mapping[str, Role]
    faults: Mapping[str, Fault]
    remedies: tuple[Remedy, ...]
    methods: Mapping[str, Method]
    ladders: Mapping[str, Ladder]
    guards: tuple[Guard, ...]
    order_rules: tuple[OrderRule, ...]
    hazards: Mapping[str, Hazard]
    consumables: Mapping[str, Consumable]
    tools: Mapping[str, Tool]
    play_tests: Mapping[str, PlayTest]
    settings: Mapping[str, Decimal]  # lost-note share that stops a verdict, pitch limit in cents, inspection age …
    intervals: Mapping[str, CareInterval] = field(default_factory=dict)
