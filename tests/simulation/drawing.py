"""Inspections and benches drawn at random, and plans of them, to try the planner with."""

from __future__ import annotations

import random
from collections.abc import Iterator
from decimal import Decimal

from inventory.catalog.schema import Catalog, Kind, Severity, Skill
from inventory.rules.facts import FindingFact
from repairs.rules.facts import BenchFact
from repairs.rules.plan import Plan, plan_work

MOST_FINDINGS = 12
SAME_PART = 0.4  # chance that the next finding is at the part of the last one


def draw_inspection(kind: Kind, *, catalog: Catalog, generator: random.Random) -> tuple[FindingFact, ...]:
    """Draw one to twelve findings at a kind's parts and places, each a fault its role can have; troubles flock together."""
    parts = [part for part in kind.parts if catalog.roles[part.role].faults]
    found: list[FindingFact] = []
    for _ in range(generator.randint(1, MOST_FINDINGS)):
        part = kind.part(found[-1].part) if found and generator.random() < SAME_PART else generator.choice(parts)
        place = generator.choice(part.places).code if part.places and generator.random() < 0.8 else ""
        found.append(
            FindingFact(
                part=part.code,
                fault=generator.choice(catalog.roles[part.role].faults),
                severity=generator.choice(tuple(Severity)),
                place=place,
            )
        )
    return tuple(dict.fromkeys(found))


def full_bench(catalog: Catalog) -> BenchFact:
    """Return a bench with every tool, trained for everything but what only a specialist does."""
    return BenchFact(
        code="everything",
        tools=frozenset(catalog.tools),
        methods=frozenset(
            code for code, method in catalog.methods.items() if method.skill is Skill.ADVANCED or method.ladder
        ),
        has_torch=True,
        has_chemicals=True,
        rate_amount=Decimal(30),
    )


def specialist_bench(catalog: Catalog) -> BenchFact:
    """Return a bench that can and may do everything, specialist rungs among it: the hardest case for the order."""
    rungs = (f"{ladder.code}.{rung.code}" for ladder in catalog.ladders.values() for rung in ladder.rungs)
    tools = {tool for method in catalog.methods.values() for tool in method.tools}
    tools |= {tool for ladder in catalog.ladders.values() for rung in ladder.rungs for tool in rung.tools}
    return BenchFact(
        code="specialist",
        tools=frozenset(catalog.tools) | tools,
        methods=frozenset((*catalog.methods, *rungs)),
        has_torch=True,
        has_chemicals=True,
        rate_amount=Decimal(60),
    )


def draw_plans(
    catalog: Catalog, *, bench: BenchFact, count: int, seed: int
) -> Iterator[tuple[Kind, tuple[FindingFact, ...], Plan]]:
    """Yield plans of random inspections, the kinds in turn."""
    generator = random.Random(seed)
    kinds = list(catalog.kinds.values())
    for number in range(count):
        kind = kinds[number % len(kinds)]
        findings = draw_inspection(kind, catalog=catalog, generator=generator)
        yield kind, findings, plan_work(kind=kind, catalog=catalog, findings=findings, bench=bench)
