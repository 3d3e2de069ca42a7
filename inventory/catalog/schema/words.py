"""The words of the catalog: how bad, what it does, where a figure comes from, what kind of thing it is."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

from msgspec import Meta

Texts = tuple[str, ...]
Minutes = Annotated[tuple[int, int, int], Meta(description="minutes as [low, likely, high]")]
Span = Annotated[tuple[Decimal, Decimal], Meta(description="[low, high]")]
Years = Annotated[tuple[int, int], Meta(description="years as [low, high]")]
NoteRange = Annotated[tuple[str, str], Meta(description="[low note, high note], as [A3, E5]")]
Share = Annotated[float, Meta(ge=0, le=1, description="a share between 0 and 1")]


class OneOrMore:
    """Marks a tuple that a file may write as one plain value where it holds only one."""


@dataclass(frozen=True, slots=True)
class In:
    """Marks a field that holds codes of a section: ``Annotated[Texts, In("faults")]``."""

    section: str


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

    @property
    def sort(self) -> str:
        """What it harms. A finding may have one effect of each sort; within one, the later effect is the worse."""
        return SORTS.get(self, "")


SORTS = {
    Effect.RISKS: "safety",
    Effect.UNSAFE: "safety",
    Effect.SLOWS: "motion",
    Effect.BENDS_PITCH: "sound",
    Effect.LOSES_NOTES: "sound",
    Effect.STOPS_SOUND: "sound",
}
Effects = Annotated[tuple[Effect, ...], OneOrMore(), Meta(min_length=1, description="an effect or a list of effects")]


class Origin(StrEnum):
    """Where a figure comes from; shown beside it, never as an address."""

    PUBLISHED = "published"
    COMMON = "common_practice"
    DEFAULT = "shop_default"
    DISTRICT = "set_by_the_district"  # in the browser; no file says it


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


class Size(StrEnum):
    """How much instrument there is to wash, dry, lift and pad, smallest first."""

    SMALL = "small"
    MEDIUM = "medium"
    LARGE = "large"
    VERY_LARGE = "very_large"


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


class Hygiene(StrEnum):
    """What becomes of a thing between two players; the empty word: nothing, it goes into no mouth."""

    NONE = ""
    CLEANED = "cleaned"
    THROWN_AWAY = "thrown_away"
    AID = "aid"  # one cleans with it; it is washed, but nobody is told of it


class RoleTag(StrEnum):
    """What the rules need to know of a role besides its faults."""

    HAND_SLIDE = "hand_slide"  # a tube of the slide that a trombonist moves
    BRANCH = "branch"  # on the loop of one valve: it matters while that valve is down
    VALVE = "valve"  # moves a valve, or is part of one
    ATTACHMENT = "attachment"  # on a trombone: of its F attachment, which the open tube does without
    SEALS = "seals"  # air can leak there although it does not pass through
    HANGS = "hangs"  # holds the bars of a keyboard up
    TUBE = "tube"  # red rot goes through it
    HOLDS = "holds"  # joins other parts: unless its part says which, a break there counts everywhere
    APART = "apart"  # nobody plays on it: what is wrong with it limits no playing
    VOICES = "voices"  # each of its places sounds by itself, and is played by itself: one silent is not all
    STAYS_ON = "stays_on"  # nobody takes it off for another instrument: no thing of its own, or bought new anyway


class FaultWay(StrEnum):
    """How the rules take a fault, besides its effects."""

    LEAKS = "leaks"
    FIXES = "fixes"  # a slide stays where it stands while someone plays; one that is merely slow can be set
    HALTS = "halts"  # a slide goes no further than this place, where it loses notes
    HANDLES = "handles"  # what a hand holds or moves may be gone; the detail says whether it is a slide's ring
    CHOKES = "chokes"  # less air gets through, whatever is played
    HOLDS = "holds"  # a valve may stay down as well as up
    STANDS = "stands"  # where the part stands makes a difference, and the walk asks
    STICKS = "sticks"  # a pad that opens or rises too late
    BINDS = "binds"  # a key stays as it rests
    CLOGS = "clogs"  # a hole lets less air out, or none, whatever covers it
    UNSPRUNG = "unsprung"  # nothing brings it back
    UNLINKS = "unlinks"  # what one key shuts no longer lands together
    ROTS = "rots"
    CRACKS = "cracks"


class Cause(StrEnum):
    """What a fault usually comes from when it is new at return."""

    WEAR = "wear"
    DAMAGE = "damage"
    EITHER = "either"
