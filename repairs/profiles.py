"""Bench profiles from a file, for planning without a database."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from inventory.catalog.schema import Catalog, Skill
from repairs.rules.facts import BenchFact

PROFILES = Path(__file__).resolve().parent.parent / "fixtures" / "benches.yaml"
USUAL = "school"  # the code of the profile


class UnknownBenchError(LookupError):
    """No profile has this code; the message lists those there are."""


def bench_profile(code: str, *, catalog: Catalog) -> BenchFact:
    """Return the bench with this code, its words for tools and training spelled out by the catalog."""
    profiles = _profiles()
    if code not in profiles:
        raise UnknownBenchError(f"bench {code!r} is not known. Known: {', '.join(profiles)}")
    profile = profiles[code]
    tools = {tool for word in profile["tools"] for tool in _tools(word, catalog=catalog)}
    methods = {method for word in profile["trained"] for method in _trained(word, catalog=catalog)}
    return BenchFact(
        code=code,
        tools=frozenset(tools - set(profile["without_tools"])),
        methods=frozenset(methods),
        has_torch=profile["torch"],
        has_chemicals=profile["chemicals"],
        rate_amount=Decimal(profile["rate_amount"]),
    )


@cache
def _profiles() -> Mapping[str, Mapping[str, Any]]:
    profiles: dict[str, dict[str, Any]] = yaml.safe_load(PROFILES.read_text(encoding="utf-8"))
    return profiles


def usual_bench(*, catalog: Catalog) -> BenchFact:
    """Return the bench of a school that has set up none, at what an hour of it costs in this district."""
    return replace(bench_profile(USUAL, catalog=catalog), rate_amount=catalog.settings["bench_rate_amount"])


def _tools(word: str, *, catalog: Catalog) -> Iterator[str]:
    """Yield the tools a word stands for: of a first bench, of every basic and advanced method, all, or one code."""
    if word == "starter":
        yield from (code for code, tool in catalog.tools.items() if tool.starter)
        yield from _method_tools(catalog, skills={Skill.BASIC})
    elif word == "advanced":
        yield from _method_tools(catalog, skills={Skill.BASIC, Skill.ADVANCED})
    elif word == "all":
        yield from catalog.tools
    else:
        yield word


def _method_tools(catalog: Catalog, *, skills: set[Skill]) -> Iterator[str]:
    for method in catalog.methods.values():
        if method.skill in skills:
            yield from method.tools
    for ladder in catalog.ladders.values():
        for rung in ladder.rungs:
            if rung.skill in skills:
                yield from rung.tools


def _trained(word: str, *, catalog: Catalog) -> Iterator[str]:
    if word == "advanced":
        yield from (code for code, method in catalog.methods.items() if method.skill is Skill.ADVANCED)
        yield from (code for code, method in catalog.methods.items() if method.ladder)
    else:
        yield word
