"""What a plan is made of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple, Protocol

from core.translation import gettext as _
from inventory.catalog.schema import Hazard, Ladder, PartNeed, Rung
from inventory.rules.facts import FindingFact
from repairs.rules.effort import Estimate, Range
from repairs.rules.facts import AttemptFact
from repairs.rules.odds import Posterior


class RungState(StrEnum):
    """Where a rung stands on its ladder."""

    NEXT = "next"
    LATER = "later"
    OUTSIDE = "outside"  # a shop's rung, behind all of ours
    TRIED = "tried"
    REFUSED = "refused"  # this bench cannot, a guard forbids, or a try costs more than it saves


@dataclass(frozen=True, slots=True)
class WaitsOn:
    """A step that comes first, and the rule that says so."""

    step_key: str
    say: str
    because: str
    part_name: str = ""  # as said, with its place


def by_reason(waits: Iterable[WaitsOn]) -> list[tuple[str, list[WaitsOn]]]:
    """Return what comes first by the reason it does, in the order given."""
    found: dict[str, list[WaitsOn]] = {}
    for one in waits:
        found.setdefault(one.because, []).append(one)
    return list(found.items())


@dataclass(frozen=True, slots=True)
class Bill:
    """What something takes on average: attended minutes here (0 at a shop) and dollars, parts included."""

    minutes: float
    amount: Decimal


@dataclass(frozen=True, slots=True)
class PlannedRung:
    """A rung of a ladder as it stands in a plan. Minutes and money are for one try; free rungs ride on shared work."""

    entry: Rung  # of the catalog
    step_key: str
    state: RungState
    why: str  # why refused, or what makes it free; "" otherwise
    odds: Posterior
    minutes: Range
    wait_h: Decimal
    cost_amount: Decimal  # bench time, fee, harm and waiting, as the order weighs them, without what it needs first
    is_free: bool
    first: tuple[str, ...]  # names of the methods that must be done before it
    first_takes: tuple[tuple[str, Bill], ...]  # those of them not planned anyway; the first try that needs one pays
    waits_on: tuple[str, ...]  # keys of steps planned anyway that it needs or rides on
    held_by: tuple[str, ...]  # codes of the rungs that gentleness or the ladder puts before it
    is_passed: bool = False  # refused only for what has failed here already, not for what it does

    @property
    def p(self) -> float:
        return self.odds.mean


@dataclass(frozen=True, slots=True)
class PlannedLadder:
    """A stuck part: the rungs in the order to try them, tried ones first, refused ones last."""

    entry: Ladder  # of the catalog
    key: str
    part: str
    place: str
    rungs: tuple[PlannedRung, ...]

    @property
    def ahead(self) -> tuple[PlannedRung, ...]:
        """Return the rungs still to try, the next one first."""
        return tuple(rung for rung in self.rungs if rung.state in {RungState.NEXT, RungState.LATER, RungState.OUTSIDE})


@dataclass(frozen=True, slots=True)
class StuckPart:
    """A stuck part, with its ladder as far as this bench got."""

    ladder: PlannedLadder
    part_name: str  # as said, with its place
    findings: tuple[FindingFact, ...]


@dataclass(frozen=True, slots=True)
class Soaked:
    """A stuck part that sits in a work on the whole instrument, and its own way of that work."""

    key: str
    method: str
    rung: str
    part: str
    part_name: str
    place: str
    say: str
    findings: tuple[FindingFact, ...]


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """One thing to do next, or once what comes first is done. ``key`` stays the same from plan to plan."""

    key: str
    method: str
    part: str
    part_name: str  # as said, with its place
    place: str
    findings: tuple[FindingFact, ...]
    say: str
    watch: tuple[str, ...]
    minutes: Range  # what it takes where ``set_up_minutes`` of it were spent at the same work before
    wait_h: Decimal
    cost_amount: Decimal  # bench time at the likely minutes and parts at their middle price
    parts: tuple[PartNeed, ...]
    tools: tuple[str, ...]
    cautions: tuple[Hazard, ...]
    tags: tuple[str, ...]
    setup: str
    keep_dry: tuple[str, ...] = ()  # codes of the parts that must be off or out of the water in a wet step
    waits_on: tuple[WaitsOn, ...] = ()
    rung: str = ""
    odds: Posterior | None = None
    ladder_key: str = ""
    next_rungs: tuple[PlannedRung, ...] = ()
    set_up_minutes: float = 0.0

    @property
    def prerequisites(self) -> tuple[str, ...]:
        return tuple(one.step_key for one in self.waits_on)

    @property
    def blocked_because(self) -> str:
        """Return what comes first, each reason said once."""
        return "; ".join(
            _("first: %(steps)s (%(why)s)", steps=", ".join(dict.fromkeys(one.say for one in firsts)), why=because)
            for because, firsts in by_reason(self.waits_on)
        )

    @property
    def acknowledgements(self) -> tuple[Hazard, ...]:
        """Return the hazards to acknowledge once per job, before the first such step."""
        return tuple(hazard for hazard in self.cautions if hazard.acknowledge)


@dataclass(frozen=True, slots=True)
class DoneStep:
    """The latest attempt at a step, with the name of what was tried."""

    attempt: AttemptFact
    say: str


@dataclass(frozen=True, slots=True)
class SentOut:
    """A finding for a shop: the method asked for ("" if the catalog has none), why, and its price, parts included."""

    finding: FindingFact
    method: str
    say: str
    why: str
    fee_low_amount: Decimal
    fee_high_amount: Decimal
    wait_h: Decimal = Decimal(0)
    parts: tuple[PartNeed, ...] = ()  # that the shop puts in; their price is within the fee
    is_shared: bool = False  # one job of the shop with another finding, which bears the fee


@dataclass(frozen=True, slots=True)
class Left:
    finding: FindingFact
    why: str


@dataclass(frozen=True, slots=True)
class AtOnce:
    """Many bad places of one sort: put right one by one, or all of them at once."""

    method: str
    say: str
    each: str
    count: int
    one_by_one: Bill
    all_at_once: Bill
    from_count: int
    because: str
    is_chosen: bool
    is_at_shop: bool

    @property
    def is_by_rule(self) -> bool:
        """Whether there are so many that the trade does all of them whatever it costs today."""
        return self.count >= self.from_count

    @property
    def sentence(self) -> str:
        """Return the arithmetic."""
        each, singly, whole = self.each, _bill(self.one_by_one), _bill(self.all_at_once)
        sentences = [_("%(count)s %(each)s one by one: %(bill)s.", count=self.count, each=each, bill=singly)]
        if self.is_at_shop:
            sentences.append(_("All %(each)s at once at a shop: %(bill)s.", each=each, bill=whole))
        else:
            sentences.append(_("All %(each)s at once: %(bill)s.", each=each, bill=whole))
        if self.is_by_rule:
            words = _("With %(count)s or more bad %(each)s, the trade does them all:", count=self.from_count, each=each)
            sentences += [words, self.because]
        if not self.is_chosen:
            sentences.append(_("Planned one by one, which is cheaper."))
        return " ".join(sentences)


def _bill(one: Bill) -> str:
    dollars = f"${one.amount:.0f}"
    return (
        _("%(minutes)s min and %(dollars)s", minutes=f"{one.minutes:.0f}", dollars=dollars) if one.minutes else dollars
    )


class Taken(NamedTuple):
    """What a plan takes, in all."""

    attended_minutes: Estimate
    waiting_hours: Estimate
    elapsed_days: Estimate
    cost: Estimate  # dollars: this bench's time, parts, harm, and the shop where a ladder ends there
    outside_cost: Estimate  # dollars: fees of what is sent out from the start
    total_cost: Estimate  # dollars to playing condition


class Costing(Protocol):
    """What a plan takes, worked out when somebody asks: a list of hundreds of jobs needs no distributions."""

    @property
    def taken(self) -> Taken: ...

    @property
    def mean_minutes(self) -> float: ...

    def to_fix(self, finding: str) -> Bill | None: ...


@dataclass(frozen=True, slots=True)
class Plan:
    """What to do, in order; what was done; what goes to a shop; what stays as it is; and what it will take."""

    kind: str
    bench: str
    steps: tuple[PlannedStep, ...]
    done: tuple[DoneStep, ...]
    send_out: tuple[SentOut, ...]
    leave: tuple[Left, ...]
    ladders: tuple[PlannedLadder, ...]
    costing: Costing
    at_once: tuple[AtOnce, ...] = ()  # where many places are bad: what doing all of them costs against one by one
    sent_stuck: tuple[StuckPart, ...] = ()  # stuck parts that are left to a shop, nothing having gone wrong here
    not_here: tuple[str, ...] = ()  # sentences: cleaning that is owed and that this bench cannot do
    conflicts: tuple[str, ...] = ()  # order rules the catalog contradicts itself on; empty for a sound catalog

    @property
    def mean_minutes(self) -> float:
        """Return the attended minutes on average, without the work of the distributions."""
        return self.costing.mean_minutes

    @property
    def taken(self) -> Taken:
        """Return what it will take; the first call works out the distributions, which takes longer than the plan."""
        return self.costing.taken

    def step(self, key: str) -> PlannedStep | None:
        """Return the step with this key, or None if the plan has none."""
        return next((step for step in self.steps if step.key == key), None)

    @property
    def next_step(self) -> PlannedStep | None:
        """Return the step to do now: the first one, which waits on nothing, since steps come in a topological order."""
        return next(iter(self.steps), None)

    @property
    def tools(self) -> tuple[str, ...]:
        return tuple(sorted({tool for step in self.steps for tool in step.tools}))
