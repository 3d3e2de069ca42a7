"""The precedence edges of a plan: needs, order rules, shared work, and no flame on oil."""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from core.translation import gettext as _
from core.translation import gettext_noop
from inventory.catalog.schema import Method, OrderRule
from repairs.rules.plan.case import OIL, Case
from repairs.rules.plan.choose import Chosen, add_putting_back, methods_of
from repairs.rules.plan.graph import Graph, Node
from repairs.rules.plan.needs import (
    Needed,
    all_needs,
    cleaning_method,
    direct_needs,
    is_settled,
    needs_of,
    putting_back,
)
from repairs.rules.plan.values import Plan

PLAY_TEST = "play_test"
LEAK_TEST = "leak_test"
TESTS = frozenset({LEAK_TEST, PLAY_TEST})
FLAME = frozenset({"flame"})
SHOP_TRIP = "shop_trip"  # the step that all work of a shop is done in, where steps here come after some of it
DISMANTLING = frozenset({"opens", "strip"})  # late within its phase: a first pull by hand needs the parts still in
HOT = frozenset({"heat", "flame"})
SOFT = frozenset({"pad", "felt", "cork"})
HEAT_AHEAD = gettext_noop("a later try may heat it: what heat ruins goes in when that is past")
FLAME_ON_OIL = gettext_noop("a flame on oil burns: clean it off first")
FLAME_FIRST = gettext_noop("oil goes on after the flame, never before")
BEFORE_FLAME = "before_flame"
RIGHT_BEFORE = gettext_noop("it is made ready right before the flame")


class GiveUpError(Exception):
    """A step that no order makes safe here, such as a flame on oil; the plan is made again without it."""

    def __init__(self, *, key: str, why: str) -> None:
        super().__init__(why)
        self.key = key
        self.why = why


@dataclass(frozen=True, slots=True)
class Separation:
    """Work tagged ``then`` may follow work tagged ``first`` only after work tagged ``between``."""

    first: frozenset[str]
    then: frozenset[str]
    between: frozenset[str]
    because: str

    def is_between(self, node: Node, *, case: Case) -> bool:
        """Whether a step for the whole instrument is the work in between; off oil, only what takes oil off."""
        if self.first <= OIL:
            return not node.part and case.cleans_oil(node.tags)
        return not node.part and bool(node.tags & self.between)


def separations(case: Case) -> tuple[Separation, ...]:
    """Return what must be kept apart: oil and flame always, and what the catalog adds."""
    added = tuple(
        Separation(frozenset(rule.first), frozenset(rule.then), frozenset(rule.between), rule.because)
        for rule in case.catalog.order_rules
        if rule.between and not (set(rule.first) <= OIL and set(rule.then) <= FLAME)
    )
    return (Separation(OIL, FLAME, frozenset({"clean"}), _(FLAME_ON_OIL)), *added)


def add_tests(case: Case, chosen: Chosen) -> None:
    """Add the leak test where there are pads, and the play test, unless they were done after everything else."""
    for code in (LEAK_TEST, PLAY_TEST):
        method = case.catalog.methods.get(code)
        is_wanted = code == PLAY_TEST or "pad" in case.roles
        if method is not None and is_wanted and not _is_proved(case, chosen, code=code):
            chosen.add(Needed(method))


def add_trip(case: Case, chosen: Chosen) -> None:
    """Add the trip to the shop where a step here comes after the shop's work, unless it was made or left out."""
    method = case.catalog.methods.get(SHOP_TRIP)
    if method is None or not chosen.send_out or is_settled(case, SHOP_TRIP):
        return
    if any(shop_before(case, chosen, node) for node in nodes_of(case, chosen).values()):
        chosen.add(Needed(method))


def is_left_to_a_shop(plan: Plan) -> bool:
    """Whether, but for the tests, only work of a shop is left, and nobody has said that it was there already."""
    was_there = any(one.attempt.method == SHOP_TRIP for one in plan.done)
    return bool(plan.send_out) and not was_there and all(step.method in TESTS for step in plan.steps)


def shop_before(case: Case, chosen: Chosen, node: Node) -> dict[str, str]:
    """Return what a shop does that belongs before a step, by what is asked for, each with the order rule's reason."""
    here = chosen.methods.get(node.key)
    found: dict[str, str] = {}
    for one in chosen.send_out:
        shop = case.catalog.methods.get(one.method)
        if shop is None or node.key in TESTS:
            continue
        if here is not None and shop.code in here.method.after:
            found.setdefault(one.say, "")
        rule = _rule_between(case, before=_away(case, shop, part=one.finding.part), after=node)
        if rule is not None:
            found.setdefault(one.say, rule.because.rstrip(".").lower())
    return found


def _away(case: Case, shop: Method, *, part: str) -> Node:
    """Return a shop's job at a part as the order rules see it."""
    role = case.parts[part].role
    return Node(key="", tags=frozenset(shop.tags), phase=shop.phase, setup="", part=part, rank=(0, 0, ""), role=role)


def _rule_between(case: Case, *, before: Node, after: Node) -> OrderRule | None:
    rules = (rule for rule in case.catalog.order_rules if not rule.between)
    return next((rule for rule in rules if rule_applies(rule, before=before, after=after)), None)


def _link_trip(case: Case, chosen: Chosen, graph: Graph) -> None:
    """Put the trip before what comes after any of the shop's work, and after what comes before some of it if it can."""
    if SHOP_TRIP not in graph.nodes:
        return
    nodes = [node for node in graph.nodes.values() if node.key not in {*TESTS, SHOP_TRIP}]
    for node in nodes:
        for say, because in shop_before(case, chosen, node).items():
            graph.link(SHOP_TRIP, node.key, because=because or _("the shop's “%(work)s” comes before it", work=say))
    for one in chosen.send_out:
        if (shop := case.catalog.methods.get(one.method)) is None:
            continue
        for node in nodes:
            rule = _rule_between(case, before=node, after=_away(case, shop, part=one.finding.part))
            if rule is not None and not graph.reaches(SHOP_TRIP, node.key):
                graph.link(node.key, SHOP_TRIP, because=rule.because)


def _is_proved(case: Case, chosen: Chosen, *, code: str) -> bool:
    """Whether a test was passed, nothing but tests was done since, and nothing but tests is planned."""
    outcome = case.outcome(code)
    if outcome is None or not outcome.is_success:
        return False
    last = max(number for number, one in enumerate(case.attempts) if one.step_key == code)
    is_later_work = any(one.method not in TESTS for one in case.attempts[last + 1 :])
    return not is_later_work and not chosen.climbs and set(chosen.methods) <= TESTS


def build_graph(case: Case, chosen: Chosen) -> Graph:
    """Return the precedence graph of the plan. May add a cleaning between oil and flame.

    Raises GiveUpError where there is no cleaning to add.
    """
    _clean_before_flame(case, chosen)
    _hold_what_a_shop_frees(case, chosen)
    graph = _linked(case, chosen)
    if _separate(case, chosen, graph):
        _hold_what_a_shop_frees(case, chosen)
        graph = _linked(case, chosen)
        _separate(case, chosen, graph)
    _make_ready_last(graph)
    return graph


def _make_ready_last(graph: Graph) -> None:
    """Put what makes a place ready for a flame after all else that comes before it: a joint stays clean until then."""
    ready = {key for key, node in graph.nodes.items() if BEFORE_FLAME in node.tags}
    for first, burning in [edge for edge in graph.edges if graph.nodes[edge[1]].tags & FLAME and edge[0] not in ready]:
        for key in (one for one in ready if (one, burning) in graph.edges):
            if not graph.reaches(key, first):
                graph.link(first, key, because=_(RIGHT_BEFORE))


def _hold_what_a_shop_frees(case: Case, chosen: Chosen) -> None:
    """Give up what has to wait for a shop's work: felts stay under a cap that only a shop gets off."""
    nodes = nodes_of(case, chosen).values()
    for rule in (rule for rule in case.catalog.order_rules if rule.holds):
        held = next((node.key for node in nodes if not node.tags.isdisjoint(rule.then)), "")
        for sent in chosen.send_out if held else ():
            shop, part = case.catalog.methods.get(sent.method), case.parts[sent.finding.part]
            if shop is None or not is_first(rule, tags=shop.tags, role=part.role):
                continue
            why = _("a shop has to free the %(part)s first", part=part.at(sent.finding.place))
            raise GiveUpError(key=held, why=why)


def is_first(rule: OrderRule, *, tags: Iterable[str], role: str) -> bool:
    """Whether work with these tags at a part of this role is what an order rule puts first."""
    return not frozenset(tags).isdisjoint(rule.first) and (not rule.roles or role in rule.roles)


def nodes_of(case: Case, chosen: Chosen) -> dict[str, Node]:
    """Return the steps of the plan as the order sees them; a ladder stands by its next rung."""
    steps = {key: (needed.method, needed.method.tags, needed.part) for key, needed in chosen.methods.items()}
    for climb, rung in chosen.next_tries():
        steps[rung.step_key] = (climb.method, (*climb.method.tags, *rung.entry.tags), climb.planned.part)
    works, first = chosen.works(), dict[str, int]()
    for key, (_method, _tags, part) in steps.items():
        place = case.part_order.get(part, 0)
        first[works[key]] = min(place, first.get(works[key], place))
    return {
        key: _node(case, key=key, method=method, tags=tags, part=part, together=(first[works[key]], works[key]))
        for key, (method, tags, part) in steps.items()
    }


def _node(case: Case, *, key: str, method: Method, tags: Iterable[str], part: str, together: tuple[int, str]) -> Node:
    given = frozenset(tags)
    setup = "torch" if "flame" in given else method.setup
    rank = (int(bool(given & DISMANTLING)), *together, case.part_order.get(part, 0), key)
    role = case.parts[part].role if part else ""
    return Node(key=key, tags=given, phase=method.phase, setup=setup, part=part, rank=rank, role=role)


def _linked(case: Case, chosen: Chosen) -> Graph:
    """Return the steps with every edge but those that keep work apart; of two reasons for one edge the first counts."""
    graph = Graph(nodes=nodes_of(case, chosen))
    _link_needs_of_methods(case, chosen, graph)
    _link_needs_of_tries(case, chosen, graph)
    _link_named_predecessors(chosen, graph)
    _link_tests(graph)
    riding = {rung.step_key for _, rung in chosen.next_tries() if rung.is_free}
    for rule in case.catalog.order_rules:
        if not rule.between:
            _link_order_rule(graph, rule, riding=riding)
    _link_trip(case, chosen, graph)
    _link_guarded_tries(chosen, graph)
    _link_soft_parts_after_heat(case, chosen, graph)
    return graph


def _link_needs_of_methods(case: Case, chosen: Chosen, graph: Graph) -> None:
    for needed in chosen.methods.values():
        method, part = needed.method, needed.part
        for first in direct_needs(case, codes=needs_of(case, method, part=part), part=part, place=needed.place):
            graph.link(first.key, needed.key, because=_("“%(way)s” needs it", way=method.name), is_hard=True)
        for last in putting_back(case, (method,)):
            because = _("it is put back together when the rest is done")
            graph.link(needed.key, last.key, because=because, is_hard=True)


def _link_needs_of_tries(case: Case, chosen: Chosen, graph: Graph) -> None:
    for climb, rung in chosen.next_tries():
        for first in direct_needs(case, codes=rung.entry.needs, part=climb.planned.part, place=climb.planned.place):
            graph.link(first.key, rung.step_key, because=_("“%(way)s” needs it", way=rung.entry.name), is_hard=True)
        if rung.is_free:
            graph.link(rung.entry.shared_with, rung.step_key, because=_("it does the same work"), is_hard=True)


def _link_named_predecessors(chosen: Chosen, graph: Graph) -> None:
    """Link what a method names as coming before it, wherever both are planned."""
    planned = [(needed.method.code, needed.key) for needed in chosen.methods.values()]
    planned += [(climb.method.code, one.step_key) for climb, one in chosen.next_tries()]
    for needed in chosen.methods.values():
        for code in needed.method.after:
            for other, key in planned:
                if other == code:
                    graph.link(key, needed.key, because=_("it comes before “%(way)s”", way=needed.method.name))


def _link_tests(graph: Graph) -> None:
    proves, comes_last = _("the leak test proves the finished work"), _("the play test comes last")
    for key in graph.nodes:
        if key not in TESTS:
            graph.link(key, LEAK_TEST, because=proves, is_hard=True)
        if key != PLAY_TEST:
            graph.link(key, PLAY_TEST, because=comes_last, is_hard=True)


def rule_applies(rule: OrderRule, *, before: Node, after: Node) -> bool:
    """Whether an order rule puts one step before another. Two steps that both are both kinds are not ordered."""
    first, then = frozenset(rule.first), frozenset(rule.then)
    if not (is_first(rule, tags=before.tags, role=before.role) and after.tags & then):
        return False
    if after.tags & first and before.tags & then:
        return False
    return rule.scope != "part" or not before.part or not after.part or before.part == after.part


def _link_order_rule(graph: Graph, rule: OrderRule, *, riding: AbstractSet[str]) -> None:
    """Link what a rule puts in order; a try that rides on other work does not hold up what that work needs."""
    firsts = [node for node in graph.nodes.values() if not node.tags.isdisjoint(rule.first)]
    thens = [node for node in graph.nodes.values() if not node.tags.isdisjoint(rule.then)] if firsts else []
    for before in firsts:
        for after in thens:
            if before.key == after.key or (before.key in riding and graph.reaches(after.key, before.key)):
                continue
            if rule_applies(rule, before=before, after=after):
                graph.link(before.key, after.key, because=rule.because)


def _link_guarded_tries(chosen: Chosen, graph: Graph) -> None:
    """Put the repair that a guard asks for before the try it holds up; GiveUpError where the try must come first."""
    for climb, rung in chosen.next_tries():
        for key, because in climb.spot.held(rung.entry).items():
            if graph.reaches(rung.step_key, key):
                raise GiveUpError(key=rung.step_key, why=because)
            graph.link(key, rung.step_key, because=because, is_hard=True)


def _link_soft_parts_after_heat(case: Case, chosen: Chosen, graph: Graph) -> None:
    """Put new pads, felts and corks after work at a part that a later way would heat, as far as the heat gets.

    Brass leads it everywhere; where nothing is bathed, only the same key or part is near enough.
    """
    spots = {
        rung.step_key: (climb.planned.part, climb.planned.place)
        for climb, rung in chosen.next_tries()
        if any(HOT.intersection(one.entry.tags) for one in climb.planned.ahead)
    }
    spots |= {
        key: (one.part, one.place) for key, one in chosen.methods.items() if _may_need_heat(case, chosen, key=key)
    }
    for key, (part, place) in spots.items():
        near = {part, place} - {""}
        for node in graph.nodes.values():
            is_near = case.has_bath or near.intersection(node.key.split(":")[1:])
            if is_near and not SOFT.isdisjoint(node.tags) and not graph.reaches(node.key, key):
                graph.link(key, node.key, because=_(HEAT_AHEAD))


def _may_need_heat(case: Case, chosen: Chosen, *, key: str) -> bool:
    """Whether this bench would go on with heat where a method does not put its finding right."""
    method = chosen.methods[key].method
    if not SOFT.isdisjoint(method.tags):
        return False
    for finding in chosen.findings.get(key, ()):
        ways = methods_of(case, finding)
        later = ways[ways.index(method) + 1 :] if method in ways else ()
        if any(HOT.intersection(one.tags) and not case.lacking_for(one) for one in later):
            return True
    return False


def _clean_before_flame(case: Case, chosen: Chosen) -> None:
    """Where oil went on since the last cleaning, put a cleaning before the flame."""
    nodes = nodes_of(case, chosen)
    flames = [key for key, node in nodes.items() if node.tags & FLAME]
    is_cleaned = any(case.cleans_oil(node.tags) and not node.part for node in nodes.values())
    if flames and case.is_oiled and not is_cleaned and not _add_cleaning(case, chosen):
        raise GiveUpError(key=flames[0], why=_("oil could not be cleaned off here before a flame"))


def _add_cleaning(case: Case, chosen: Chosen) -> bool:
    method = cleaning_method(case)
    if method is None:
        return False
    chosen.add(*all_needs(case, codes=method.needs, part="", place="").found)
    chosen.add(Needed(method))
    add_putting_back(case, chosen)
    return True


def _separate(case: Case, chosen: Chosen, graph: Graph) -> bool:
    """Keep oil and flame apart; return whether a cleaning had to be added and the edges must be made again."""
    for rule in separations(case):
        soiling = [node for node in graph.nodes.values() if node.tags & rule.first and not node.tags & rule.then]
        cleaning = next((node for node in graph.nodes.values() if rule.is_between(node, case=case)), None)
        for burning in (node for node in list(graph.nodes.values()) if node.tags & rule.then):
            if cleaning is not None and (case.is_oiled or soiling):
                graph.link(cleaning.key, burning.key, because=rule.because, is_hard=True)
            # Each oily step goes before the cleaning if it can; else after the flame; else a cleaning is added between.
            # Oil at a stuck part best waits for the flame: it stands for hours, and neither bath nor flame needs it.
            for oily in soiling:
                if "free" in oily.tags and not graph.reaches(oily.key, burning.key):
                    graph.link(burning.key, oily.key, because=_(FLAME_FIRST), is_hard=True)
                elif cleaning is not None and _may_precede(graph, oily, cleaning):
                    graph.link(oily.key, cleaning.key, because=rule.because, is_hard=True)
                elif not graph.reaches(oily.key, burning.key):
                    graph.link(burning.key, oily.key, because=_(FLAME_FIRST), is_hard=True)
                elif cleaning is None and _add_cleaning(case, chosen):
                    return True
                else:
                    raise GiveUpError(key=burning.key, why=rule.because)
    return False


def _may_precede(graph: Graph, oily: Node, cleaning: Node) -> bool:
    """Whether oily work may come before the cleaning: not of a later phase, and nothing puts it after it."""
    return oily.phase <= cleaning.phase and not graph.reaches(cleaning.key, oily.key)
