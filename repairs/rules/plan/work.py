"""From findings to an ordered plan."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from decimal import Decimal

from core.money import cents
from core.translation import gettext as _
from core.translation import gettext_noop
from inventory.catalog.schema import Catalog, Effect, Kind, PartNeed
from inventory.rules.facts import FindingFact, Owed
from repairs.rules.effort import MethodTimes, pert_mean
from repairs.rules.facts import AttemptFact, BenchFact
from repairs.rules.odds import Odds
from repairs.rules.plan.case import Case
from repairs.rules.plan.choose import Chosen, add_putting_back, bill_once, choose_methods
from repairs.rules.plan.estimate import PlanCosting, parts_range
from repairs.rules.plan.graph import Graph, Node, Ordered, arrange
from repairs.rules.plan.links import (
    SHOP_TRIP,
    TESTS,
    GiveUpError,
    add_tests,
    add_trip,
    build_graph,
    shop_before,
)
from repairs.rules.plan.needs import Needed
from repairs.rules.plan.overhaul import overhaul
from repairs.rules.plan.rungs import Climb
from repairs.rules.plan.values import DoneStep, Plan, PlannedRung, PlannedStep, StuckPart, WaitsOn

HOURS_PER_DAY = "bench_hours_per_day"
USUAL_HOURS = Decimal(4)  # where a catalog says nothing
TEST_AGAIN = gettext_noop("The shop's work is not in it yet: test again when it is back.")


def plan_work(
    *,
    kind: Kind,
    catalog: Catalog,
    findings: Sequence[FindingFact],
    bench: BenchFact,
    attempts: Sequence[AttemptFact] = (),
    odds: Odds | None = None,
    times: MethodTimes | None = None,
    effects: Mapping[FindingFact, Effect] | None = None,
    retry: Collection[str] = (),
    waiting_day_amount: Decimal = Decimal(0),
    is_looks_included: bool = False,
    owed: AbstractSet[Owed] = frozenset(),
    bench_hours_per_day: float | None = None,
) -> Plan:
    """Return the plan for an instrument as it stands: the same facts always give the same plan.

    ``attempts`` come in the order they were made; ``retry`` holds step keys to offer again whatever came of them;
    ``waiting_day_amount`` is what a day of waiting is worth when a student waits; ``effects`` overrides the catalog's
    effect of a finding with what was judged; ``bench_hours_per_day`` the setting. Findings that only affect looks are
    left unless ``is_looks_included``. ``owed`` adds the cleaning that is due whatever was found.
    Raises KeyError for a finding at a part the kind does not have, or with a fault the catalog does not know.
    """
    case = Case(
        kind=kind,
        catalog=catalog.sized(kind.size),
        findings=tuple(dict.fromkeys(findings)),
        bench=bench,
        attempts=tuple(attempts),
        odds=odds if odds is not None else Odds(),
        times=times if times is not None else MethodTimes(),
        effects=effects,
        retry=frozenset(retry),
        waiting_day_amount=waiting_day_amount,
        is_looks_included=is_looks_included,
        cleaning_owed=owed,
    )
    hours = bench_hours_per_day or float(catalog.settings.get(HOURS_PER_DAY, USUAL_HOURS))
    case, chosen, graph = _settled(case)
    ordered = arrange(graph)
    return Plan(
        kind=kind.code,
        bench=bench.code,
        steps=_steps(case, chosen=chosen, graph=graph, ordered=ordered),
        done=_done(case),
        send_out=tuple(chosen.send_out),
        leave=tuple(chosen.leave),
        ladders=tuple(climb.planned for climb in chosen.climbs.values()),
        costing=PlanCosting(case=case, chosen=chosen, bench_hours_per_day=hours),
        at_once=tuple(chosen.at_once),
        sent_stuck=tuple(
            StuckPart(
                ladder=climb.planned,
                part_name=case.parts[climb.planned.part].at(climb.planned.place),
                findings=tuple(chosen.findings[key]),
            )
            for key, climb in chosen.sent_climbs.items()
        ),
        not_here=tuple(chosen.not_here),
        conflicts=ordered.conflicts,
    )


def _settled(case: Case) -> tuple[Case, Chosen, Graph]:
    """Choose methods and link them, giving up one step at a time that no order makes safe."""
    while True:
        chosen = choose_methods(case)
        overhaul(case, chosen=chosen)
        bill_once(case, chosen=chosen)
        add_putting_back(case, chosen)
        add_trip(case, chosen)
        add_tests(case, chosen)
        try:
            return case, chosen, build_graph(case, chosen)
        except GiveUpError as error:
            if error.key in case.given_up:
                raise
            case = replace(case, given_up={**case.given_up, error.key: error.why})


def _steps(case: Case, *, chosen: Chosen, graph: Graph, ordered: Ordered) -> tuple[PlannedStep, ...]:
    tries = {rung.step_key: (climb, rung) for climb, rung in chosen.next_tries()}
    again = chosen.set_up_before(ordered.keys)
    steps: dict[str, PlannedStep] = {}
    for key in ordered.keys:  # what comes before a step is among the steps by then
        waits = tuple(
            WaitsOn(first, steps[first].say, graph.edges[first, key], part_name=steps[first].part_name)
            for first in ordered.direct[key]
        )
        if key in tries:
            step = _rung_step(case, *tries[key], chosen=chosen, waits=waits)
        else:
            step = _method_step(case, chosen.methods[key], node=graph.nodes[key], chosen=chosen, waits=waits)
        steps[key] = _set_up_before(case, step) if key in again else step
    return tuple(steps.values())


def _set_up_before(case: Case, step: PlannedStep) -> PlannedStep:
    """Return a step that the same work at another part, done before it, has set up."""
    minutes = case.set_up.done_before(step.minutes)
    return replace(
        step,
        minutes=minutes,
        cost_amount=_cost(case, likely=minutes.likely, parts=step.parts),
        set_up_minutes=pert_mean(step.minutes) - pert_mean(minutes),
    )


def _method_step(case: Case, needed: Needed, *, node: Node, chosen: Chosen, waits: tuple[WaitsOn, ...]) -> PlannedStep:
    method = needed.method
    absent = [case.tool_name(tool) for tool in method.tools if tool not in case.bench.tools]
    minutes = case.minutes(method.code, method.minutes)
    return PlannedStep(
        key=needed.key,
        method=method.code,
        part=needed.part,
        part_name=case.parts[needed.part].at(needed.place) if needed.part else "",
        place=needed.place,
        findings=tuple(chosen.findings.get(needed.key, ())),
        say=method.name,
        watch=(
            *shop_first(case, chosen=chosen, node=node),
            *method.watch,
            *((_("Not on this bench: %(tools)s.", tools=", ".join(absent)),) if absent else ()),
        ),
        minutes=minutes,
        wait_h=method.wait_h,
        cost_amount=_cost(case, likely=minutes.likely, parts=method.parts),
        parts=method.parts,
        tools=method.tools,
        cautions=case.cautions(method),
        tags=method.tags,
        setup=method.setup,
        keep_dry=case.dry_parts if method.whole and "wet" in method.tags else (),
        waits_on=waits,
    )


def _rung_step(
    case: Case, climb: Climb, following: PlannedRung, *, chosen: Chosen, waits: tuple[WaitsOn, ...]
) -> PlannedStep:
    planned, method, rung = climb.planned, climb.method, following.entry
    parts = method.parts if "oil" in rung.tags else ()
    warnings = (rung.warn,) if rung.warn else ()
    return PlannedStep(
        key=following.step_key,
        method=method.code,
        rung=rung.code,
        part=planned.part,
        part_name=case.parts[planned.part].at(planned.place),
        place=planned.place,
        findings=tuple(chosen.findings.get(planned.key, ())),
        say=rung.name,
        watch=(*warnings, *rung.watch, *(_("Stop if: %(sign)s.", sign=one) for one in climb.ladder.stop_if)),
        minutes=following.minutes,
        wait_h=following.wait_h,
        cost_amount=_cost(case, likely=following.minutes.likely, parts=parts),
        parts=parts,
        tools=rung.tools,
        cautions=case.cautions(rung),
        tags=tuple(dict.fromkeys((*method.tags, *rung.tags))),
        setup="torch" if "flame" in rung.tags else method.setup,
        waits_on=waits,
        odds=following.odds,
        ladder_key=planned.key,
        next_rungs=planned.ahead[1:],
    )


def _cost(case: Case, *, likely: float, parts: tuple[PartNeed, ...]) -> Decimal:
    return cents(case.bench_time(likely) + Decimal(str(parts_range(parts).likely)))


def _done(case: Case) -> tuple[DoneStep, ...]:
    latest = {attempt.step_key: attempt for attempt in case.attempts if not attempt.is_earlier}
    return tuple(
        DoneStep(attempt, case.catalog.tried_name(attempt.method, attempt.rung)) for attempt in latest.values()
    )


def shop_first(case: Case, *, chosen: Chosen, node: Node) -> tuple[str, ...]:
    """Return a sentence for each job of a shop that belongs before a step, with the reason, and what a trip is for.

    Order rules hold across the door of the bench.
    """
    if not chosen.send_out:
        return ()
    if node.key in TESTS:
        return (_(TEST_AGAIN),)
    if node.key == SHOP_TRIP:
        where = {one: case.parts[one.finding.part].at(one.finding.place) for one in chosen.send_out}
        return tuple(dict.fromkeys(f"{one.say} ({where[one]})." for one in chosen.send_out))
    if SHOP_TRIP in chosen.methods:  # the step waits for it, with the reason
        return ()
    return tuple(
        _("First the shop's work: “%(work)s” (%(why)s).", work=say, why=because)
        if because
        else _("First the shop's work: “%(work)s”.", work=say)
        for say, because in shop_before(case, chosen, node).items()
    )
