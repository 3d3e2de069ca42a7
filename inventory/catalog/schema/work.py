"""What puts a fault right: methods, ladders, what forbids them, and what they need."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from hashlib import sha256
from typing import Annotated, Literal

from msgspec import Meta

from inventory.catalog.schema.entries import Entry, Selective, Sourced
from inventory.catalog.schema.kinds import Kind
from inventory.catalog.schema.words import In, Minutes, Origin, Severity, Share, Size, Skill, Span, Texts

Scope = Literal["part", "instrument"]
Guarded = Literal["part", "place", "reach", "instrument"]
Tags = Annotated[Texts, In("tags")]


@dataclass(frozen=True, slots=True)
class Tag(Sourced):
    """A word that order rules and guards know a piece of work by."""

    code: str
    means: str


@dataclass(frozen=True, slots=True)
class Feature(Sourced):
    """What some kinds with the same layout have and others do not: a double horn's thumb valve, bare metal tenons."""

    code: str
    means: str
    layouts: Annotated[Texts, In("layouts")] = ()  # every kind with one of these says whether it has it


@dataclass(frozen=True, slots=True)
class Remedy(Selective):
    """Methods to try in turn for a fault at a role, gentlest first; the first is planned, the rest are fallbacks."""

    fault: Annotated[str, In("faults")]
    methods: Annotated[Texts, In("methods")]
    at_once: Annotated[Texts, In("methods")] = ()  # done here first, whoever does the rest: strings slackened
    roles: Annotated[Texts, In("roles")] = ()  # empty: any role of the fault
    severities: tuple[Severity, ...] = tuple(Severity)
    layouts: Annotated[Texts, In("layouts")] = ()  # empty: any layout
    only_with: str = ""  # "option=choice" that an instrument must be built with ("body=plastic"), or ""


class Priced:
    """Has a low and a high price in dollars."""

    __slots__ = ()
    price: Span

    @property
    def low(self) -> Decimal:
        return self.price[0]

    @property
    def high(self) -> Decimal:
        return self.price[1]

    @property
    def middle(self) -> Decimal:
        """The estimate until somebody has paid for one."""
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True)
class PartNeed(Priced):
    """A consumable or part that a method uses up; the price is for the quantity."""

    code: Annotated[str, In("consumables")]
    price: Span
    quantity: Decimal = Decimal(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class AtSize:
    """What changes in a method on instruments of a size: factors for its figures, other tools, more hazards."""

    size: Size
    minutes: Decimal = Decimal(1)
    wait: Decimal = Decimal(1)
    parts: Decimal = Decimal(1)  # of their price
    fee: Decimal = Decimal(1)
    tools: Mapping[Annotated[str, In("tools")], Annotated[str, In("tools")]] = field(default_factory=dict)
    hazards: Annotated[Texts, In("hazards")] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Method(Entry):
    """One bench operation, named in the imperative. Minutes are hands-on; ``wait_h`` is clock time that needs nobody."""

    fixes: Annotated[Texts, In("faults")] = ()
    minutes: Minutes
    wait_h: Decimal = Decimal(0)
    parts: tuple[PartNeed, ...] = ()
    tools: Annotated[Texts, In("tools")] = ()
    skill: Skill
    hazards: Annotated[Texts, In("hazards")] = ()
    phase: Annotated[int, Meta(ge=1, le=9)]  # 1 intake … 9 test
    tags: Tags = ()
    setup: str = ""  # set-up shared between steps: "bath", "torch", "glue" …
    whole: bool = False  # done once for the whole instrument, whatever the number of findings
    ladder: Annotated[str, In("ladders")] = ""  # rungs of this ladder take the place of one step
    needs: Annotated[Texts, In("methods")] = ()  # always done before it where the kind has their role
    after: Annotated[Texts, In("methods")] = ()  # done before it only if both are planned anyway
    put_back: Annotated[Texts, In("methods")] = ()  # put back what it took apart, always done before the tests
    roles: Annotated[
        Texts, In("roles")
    ] = ()  # a needed method is added only if the kind has one of these; empty: always
    watch: Texts = ()  # what to watch for, a few short sentences
    recheck: Annotated[Texts, In("faults")] = ()  # to look for again when done
    fee: Span | None = None  # outside shop's fee for its work, low and high; its parts come on top
    needs_at: Mapping[Annotated[str, In("roles")], Annotated[Texts, In("methods")]] = field(default_factory=dict)
    # role of the part worked on -> more needs
    sizes: tuple[AtSize, ...] = ()  # of instruments that its figures are not for

    def needs_with(self, role: str) -> tuple[str, ...]:
        """Return the methods always done before it at a part of this role."""
        return (*self.needs, *self.needs_at.get(role, ()))

    def at(self, size: Size) -> Method:
        """Return the method as it is done to instruments of a size."""
        one = next((one for one in self.sizes if one.size is size), None)
        if one is None:
            return replace(self, sizes=()) if self.sizes else self
        low, likely, high = (round(figure * one.minutes) for figure in self.minutes)
        return replace(
            self,
            minutes=(low, likely, high),
            wait_h=self.wait_h * one.wait,
            parts=tuple(replace(need, price=_times(need.price, one.parts)) for need in self.parts),
            fee=_times(self.fee, one.fee) if self.fee else None,
            tools=tuple(one.tools.get(tool, tool) for tool in self.tools),
            hazards=tuple(dict.fromkeys((*self.hazards, *one.hazards))),
            sizes=(),
        )


def _times(span: Span, factor: Decimal) -> Span:
    return span[0] * factor, span[1] * factor


@dataclass(frozen=True, slots=True, kw_only=True)
class Overhaul(Selective):
    """Like work on many places that is better done on all of them at once: a repad instead of pad after pad."""

    code: str
    each: str  # what there is one of at each place, in the plural: "pads"
    method: Annotated[str, In("methods")]  # done once for the whole instrument
    instead_of: Annotated[Texts, In("methods")]  # done place by place
    from_count: Annotated[int, Meta(ge=2, le=100)]  # with this many bad ones the trade does them all, whatever it costs
    because: str
    layouts: Annotated[Texts, In("layouts")] = ()  # empty: any layout
    origin: Origin = Origin.DEFAULT

    def fits(self, kind: Kind) -> bool:
        """Whether it is done on this kind."""
        return kind.fits(self) and (not self.layouts or kind.layout in self.layouts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung(Entry):
    """One try at a stuck part. ``p`` is the chance that it frees it given that every gentler rung failed."""

    p: Share
    minutes: Minutes
    wait_h: Decimal = Decimal(0)
    harm: Share  # chance of new damage when done as described
    force: Annotated[int, Meta(ge=0, le=6)]  # 0 hand … 6 specialist; no rung comes before one of a lower class
    skill: Skill = Skill.BASIC
    tags: Tags = ()
    tools: Annotated[Texts, In("tools")] = ()
    hazards: Annotated[Texts, In("hazards")] = ()
    needs: Annotated[Texts, In("methods")] = ()  # done before this rung (felts out before a soak)
    after: Texts = ()  # rungs that must come first
    roles: Annotated[Texts, In("roles")] = ()  # only at parts of these; empty: all of the ladder's
    severities: tuple[Severity, ...] = tuple(Severity)  # others say that it has failed already, or cannot work
    warn: str = ""
    shared_with: Annotated[str, In("methods")] = ""  # if planned anyway, it makes this rung free (the bath)
    fee: Span | None = None
    watch: Texts = ()


@dataclass(frozen=True, slots=True)
class Ladder(Entry):
    roles: Annotated[Texts, In("roles")]
    rungs: tuple[Rung, ...]
    stop_if: Texts = ()
    never: Texts = ()
    harm_cost: Decimal = Decimal(60)  # what one new damage costs to put right, dollars
    freed_words: str = "It moves"  # the button when it worked
    stuck_words: str = "Still stuck"


@dataclass(frozen=True, slots=True)
class Guard(Sourced):
    """A finding that forbids rungs and methods with a tag on the same part (red rot forbids force)."""

    fault: Annotated[str, In("faults")]
    forbids: Tags
    because: str
    scope: Guarded = (
        "part"  # place: of one valve; reach: what is worked on, what that loads, and what a brace there joins
    )
    severities: tuple[Severity, ...] = tuple(Severity)
    waits: bool = False  # the work waits for the repair where that is planned, and is not given up for it


@dataclass(frozen=True, slots=True)
class OrderRule(Entry):
    """Work with a tag in ``first`` comes before work with a tag in ``then``."""

    first: Tags
    then: Tags
    because: str
    scope: Scope = "instrument"
    roles: Annotated[Texts, In("roles")] = ()  # only where ``first`` is done at a part of these; empty: anywhere
    holds: bool = False  # where a shop does ``first``, nobody can do ``then`` here
    between: Tags = ()  # if set, the rule orders nothing: work in ``then`` may follow work in ``first``
    # only after work with one of these tags (no flame after oil without cleaning)


@dataclass(frozen=True, slots=True)
class Hazard(Entry):
    caution: str
    acknowledge: bool = False  # whoever does a step that has it reads it first, once per job
    every_step_of: Annotated[str, In("features")] = ""  # at every step on kinds that have this feature
    roles: Annotated[Texts, In("roles")] = ()  # only on kinds with one of these parts; empty: on all
    origin: Origin = field(default=Origin.COMMON, kw_only=True)

    @property
    def version(self) -> str:
        """Return a hash of the text: an acknowledgement is of one version, and a changed text asks again."""
        return sha256(f"{self.name}\n{self.caution}".encode()).hexdigest()[:12]

    @property
    def key(self) -> str:
        """Return what tells this text from any other."""
        return f"{self.code}:{self.version}"


@dataclass(frozen=True, slots=True)
class Consumable(Entry, Priced):
    unit: str
    price: Span


@dataclass(frozen=True, slots=True)
class Tool(Entry):
    price: Decimal | None = None
    starter: bool = False  # part of a first school bench
