"""What puts a fault right: methods, ladders, what forbids them, and what they need."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from inventory.catalog.schema.words import Origin, Severity, Skill


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

    @property
    def middle(self) -> Decimal:
        """What it is reckoned at before anybody has paid for one."""
        return (self.low + self.high) / 2


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
    fee: tuple[Decimal, Decimal] | None = None  # outside shop's fee for its work, low and high; its parts come on top
    needs_at: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # role of the part worked on -> more needs
    origin: Origin = Origin.DEFAULT

    def needs_with(self, role: str) -> tuple[str, ...]:
        """Return the methods always done before it at a part of this role."""
        return (*self.needs, *self.needs_at.get(role, ()))


@dataclass(frozen=True, slots=True)
class Overhaul:
    """Like work on many places that is better done on all of them at once: a repad instead of pad after pad."""

    code: str
    each: str  # what there is one of at each place, in the plural: "pads"
    method: str  # done once for the whole instrument
    instead_of: tuple[str, ...]  # methods done place by place
    from_count: int  # from so many bad ones on the trade does them all, whatever it costs today
    because: str
    kinds: tuple[str, ...] = ()  # empty: any kind
    layouts: tuple[str, ...] = ()  # empty: any layout
    origin: Origin = Origin.DEFAULT

    def fits(self, *, kind: str, layout: str) -> bool:
        """Whether it is done on this kind."""
        return (not self.kinds or kind in self.kinds) and (not self.layouts or layout in self.layouts)


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

    @property
    def middle(self) -> Decimal:
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True)
class Tool:
    code: str
    name: str
    price: Decimal | None
    starter: bool  # part of a first school bench
