"""What a shop has to do before a step here: order rules hold across the door of the bench."""

from __future__ import annotations

from collections.abc import Iterator

from repairs.rules.plan.case import Case
from repairs.rules.plan.choose import Chosen
from repairs.rules.plan.graph import Node
from repairs.rules.plan.links import LEAK_TEST, PLAY_TEST, rule_applies
from repairs.rules.plan.values import SentOut

TESTS = frozenset({LEAK_TEST, PLAY_TEST})
TEST_AGAIN = "The shop's work is not in it yet: test again when it is back."


def shop_first(case: Case, *, chosen: Chosen, node: Node) -> tuple[str, ...]:
    """Return a sentence for each job of a shop that belongs before a step here, with the reason."""
    if not chosen.send_out:
        return ()
    if node.key in TESTS:
        return (TEST_AGAIN,)
    said = dict.fromkeys(
        f"First the shop's work: “{one.say}”{f' ({because})' if because else ''}."
        for one in chosen.send_out
        for because in _reasons(case, one=one, chosen=chosen, node=node)
    )
    return tuple(said)


def _reasons(case: Case, *, one: SentOut, chosen: Chosen, node: Node) -> Iterator[str]:
    """Yield the first reason why a shop's job comes before a step, if there is one."""
    shop = case.catalog.methods.get(one.method)
    if shop is None:
        return
    here = chosen.methods.get(node.key)
    if here is not None and shop.code in here.method.after:
        yield ""
        return
    away = Node(
        key=f"{one.method} away",
        tags=frozenset(shop.tags),
        phase=shop.phase,
        setup="",
        part=one.finding.part,
        rank=(0, 0, ""),
    )
    for rule in case.catalog.order_rules:
        if not rule.between and rule_applies(rule, before=away, after=node):
            yield rule.because.rstrip(".").lower() if rule.because else ""
            return
