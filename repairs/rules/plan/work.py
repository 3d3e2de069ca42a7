"""From findings to an ordered plan."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from inventory.catalog.schema import Catalog, Effect, Hazard, Kind
from inventory.rules.facts import FindingFact
from repairs.rules.effort import MethodTimes
from repairs.rules.facts import AttemptFact, BenchFact
from repairs.rules.odds import Odds
from repairs.rules.plan.case import Case, step_key
from repairs.rules.plan.choose import Chosen, bill_once, choose_methods
from repairs.rules.plan.elsewhere import shop_first
from repairs.rules.plan.estimate import METHOD, PlanReckoning, parts_range
from repairs.rules.plan.graph import Graph, Node, Ordered, arrange
from repairs.rules.plan.links import GiveUpError, add_tests, build_graph
from repairs.rules.plan.needs import Needed
from repairs.rules.plan.overhaul import overhaul
from repairs.rules.plan.rungs import Climb
from repairs.rules.plan.together import add_putting_back
from repairs.rules.plan.values import Caution, DoneStep, Plan, PlannedStep, StepStatus, WaitsOn

CENT = Decimal("0.01")
HOURS_PER_DAY = "bench_hours_per_day"
USUAL_HOURS = Decimal(4)  # where a catalog says nothing


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
    bench_hours_per_day: float | None = None,
) -> Plan:
    """Return the plan for an instrument as it stands: the same facts always give the same plan.

    ``attempts`` come in the order they were made; ``retry`` holds step keys to offer again whatever came of them;
    ``waiting_day_amount`` is what a day of waiting is worth when a student waits; ``effects`` overrides the catalog's
    effect of a finding with what was judged; ``bench_hours_per_day`` the setting. Findings that only affect looks are
    left unless ``is_looks_included``.
    Raises KeyError for a finding at a part the kind does not have, or with a fault the catalog does not know.
    """
    case = Case(
        kind=kind,
        catalog=catalog,
        findings=tuple(dict.fromkeys(findings)),
        bench=bench,
        attempts=tuple(attempts),
        odds=odds if odds is not None else Odds(),
        times=times if times is not None else MethodTimes(),
        effects=effects,
        retry=frozenset(retry),
        waiting_day_amount=waiting_day_amount,
        is_looks_included=is_looks_included,
    )
    hours = bench_hours_per_day or float(catalog.settings.get(HOURS_PER_DAY, USUAL_HOURS))
    case, chosen, graph = _settled(case)
    ordered = arrange(graph)
    return Plan(
        kind=kind.code,
        bench=bench.code,
        steps=_steps(case, chosen=chosen, nodes=graph.nodes, ordered=ordered),
        done=_done(case),
        send_out=tuple(chosen.send_out),
        leave=tuple(chosen.leave),
        ladders=tuple(climb.planned for climb in chosen.climbs.values()),
        edges=ordered.edges,
        reckoning=PlanReckoning(case=case, chosen=chosen, bench_hours_per_day=hours),
        method=METHOD,
        at_once=tuple(chosen.at_once),
        conflicts=ordered.conflicts,
    )


def _settled(case: Case) -> tuple[Case, Chosen, Graph]:
    """Choose methods and link them, giving up one step at a time that no order makes safe."""
    while True:
        chosen = choose_methods(case)
        overhaul(case, chosen=chosen)
        bill_once(case, chosen=chosen)
        add_putting_back(case, chosen)
        add_tests(case, chosen)
        try:
            return case, chosen, build_graph(case, chosen)
        except GiveUpError as error:
            if error.key in case.given_up:
                raise
            case = replace(case, given_up={**case.given_up, error.key: error.why})


def _steps(case: Case, *, chosen: Chosen, nodes: Mapping[str, Node], ordered: Ordered) -> tuple[PlannedStep, ...]:
    climbs = {climb.next_rung.step_key: climb for climb in chosen.climbs.values() if climb.next_rung is not None}
    names = {key: needed.method.name for key, needed in chosen.methods.items()}
    names |= {key: climb.next_rung.say for key, climb in climbs.items() if climb.next_rung is not None}
    because = {(edge.before, edge.after): edge.because for edge in ordered.edges}
    steps = []
    for key in ordered.keys:
        waits = tuple(
            WaitsOn(step_key=first, say=names[first], because=because[first, key]) for first in ordered.direct[key]
        )
        if key in climbs:
            steps.append(_rung_step(case, climb=climbs[key], chosen=chosen, waits=waits))
        else:
            steps.append(_method_step(case, needed=chosen.methods[key], node=nodes[key], chosen=chosen, waits=waits))
    return tuple(steps)


def _method_step(case: Case, *, needed: Needed, node: Node, chosen: Chosen, waits: tuple[WaitsOn, ...]) -> PlannedStep:
    method = needed.method
    minutes = case.minutes(method.code, method.minutes)
    watch = (*shop_first(case, chosen=chosen, node=node), *method.watch)
    absent = [case.tool_name(tool) for tool in method.tools if tool not in case.bench.tools]
    if absent:
        watch = (*watch, f"Not on this bench: {', '.join(absent)}.")
    return PlannedStep(
        key=needed.key,
        method=method.code,
        rung="",
        part=needed.part,
        part_name=case.parts[needed.part].at(needed.place) if needed.part else "",
        place=needed.place,
        findings=tuple(chosen.findings.get(needed.key, ())),
        say=method.name,
        watch=watch,
        minutes=minutes,
        wait_h=method.wait_h,
        cost_amount=_cost(case, likely=minutes.likely, parts=parts_range(method.parts).likely),
        parts=method.parts,
        tools=method.tools,
        hazards=method.hazards,
        cautions=_cautions(case, method.hazards),
        tags=method.tags,
        phase=method.phase,
        setup=method.setup,
        recheck=method.recheck,
        is_whole=method.whole,
        keep_dry=case.dry_parts if method.whole and "wet" in method.tags else (),
        waits_on=waits,
        status=StepStatus.BLOCKED if waits else StepStatus.READY,
        odds=None,
        ladder_key="",
        next_rungs=(),
    )


def _rung_step(case: Case, *, climb: Climb, chosen: Chosen, waits: tuple[WaitsOn, ...]) -> PlannedStep:
    ahead = climb.planned.ahead
    following, rung, method = ahead[0], climb.rung(ahead[0].code), climb.method
    key = step_key(method=method.code, part=climb.planned.part, place=climb.planned.place)
    parts = method.parts if "oil" in rung.tags else ()
    return PlannedStep(
        key=following.step_key,
        method=method.code,
        rung=rung.code,
        part=climb.planned.part,
        part_name=case.parts[climb.planned.part].at(climb.planned.place),
        place=climb.planned.place,
        findings=tuple(chosen.findings.get(key, ())),
        say=rung.name,
        watch=(
            *((rung.warn,) if rung.warn else ()),
            *rung.watch,
            *(f"Stop if: {one}." for one in climb.ladder.stop_if),
        ),
        minutes=following.minutes,
        wait_h=following.wait_h,
        cost_amount=_cost(case, likely=following.minutes.likely, parts=parts_range(parts).likely),
        parts=parts,
        tools=rung.tools,
        hazards=rung.hazards,
        cautions=_cautions(case, rung.hazards),
        tags=tuple(dict.fromkeys((*method.tags, *rung.tags))),
        phase=method.phase,
        setup="torch" if "flame" in rung.tags else method.setup,
        recheck=method.recheck,
        is_whole=False,
        keep_dry=(),
        waits_on=waits,
        status=StepStatus.BLOCKED if waits else StepStatus.READY,
        odds=following.odds,
        ladder_key=key,
        next_rungs=ahead[1:],
    )


def _cost(case: Case, *, likely: float, parts: float) -> Decimal:
    time = case.bench.rate_amount * Decimal(str(likely)) / 60
    return (time + Decimal(str(parts))).quantize(CENT)


def _cautions(case: Case, hazards: Sequence[str]) -> tuple[Caution, ...]:
    found: list[Hazard] = [case.catalog.hazards[code] for code in hazards if code in case.catalog.hazards]
    return tuple(
        Caution(code=one.code, name=one.name, caution=one.caution, must_acknowledge=one.acknowledge) for one in found
    )


def _done(case: Case) -> tuple[DoneStep, ...]:
    latest = {attempt.step_key: attempt for attempt in case.attempts}
    return tuple(
        DoneStep(
            key=key,
            method=attempt.method,
            rung=attempt.rung,
            part=attempt.part,
            place=attempt.place,
            say=_said(case, attempt),
            outcome=attempt.outcome,
            minutes=attempt.minutes,
        )
        for key, attempt in latest.items()
    )


def _said(case: Case, attempt: AttemptFact) -> str:
    method = case.catalog.methods.get(attempt.method)
    if method is None:
        return attempt.method
    if attempt.rung and method.ladder in case.catalog.ladders:
        for rung in case.catalog.ladders[method.ladder].rungs:
            if rung.code == attempt.rung:
                return rung.name
    return method.name
