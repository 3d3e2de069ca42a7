"""The tool that changes the rules: what it changes, and that each change lives in memory alone."""

from __future__ import annotations

import ast
import importlib.util
import sys
from datetime import date
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from loans.rules.due import keep_until

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def mutants() -> ModuleType:
    spec = importlib.util.spec_from_file_location("mutants", ROOT / "scripts" / "mutants.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["mutants"] = module
    spec.loader.exec_module(module)
    return module


def changes(mutants: ModuleType, source: str) -> list[str]:
    return [f"{ast.unparse(old)} -> {ast.unparse(new)}" for _, old, new in mutants.changes(ast.parse(source))]


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("a < b <= c", ["a < b <= c -> a <= b <= c", "a < b <= c -> a < b < c"]),
        ("x = a + b", ["a + b -> a - b"]),
        ("x += 0.5", ["x += 0.5 -> x -= 0.5", "0.5 -> 0.625"]),
        ("limit: int = 3", ["3 -> 4"]),
        ("x = max(a, -b)", ["max -> min", "-b -> b"]),
        ("x = [a for a in b if a.late]", ["a.late -> True"]),
        ("if late: found.append(1)", ["late -> not late", "found.append(1) -> pass", "1 -> 2"]),
        ("def f(is_late: bool = False): return is_late or not done", [
            "False -> True", "is_late or not done -> is_late and (not done)", "not done -> done"]),
        ("@dataclass(frozen=True)\nclass A(B):\n    zip(a, strict=True)", ["zip(a, strict=True) -> pass"]),
    ],
)  # fmt: skip
def test_each_kind_of_change(mutants, source, expected):
    assert changes(mutants, source) == expected


def test_the_sample_is_the_same_each_time_and_reaches_every_room(mutants):
    sample = mutants.sample(size=200)
    assert sample == mutants.sample(size=200)
    assert len(sample) == 200
    assert {"/".join(one.file.split("/")[:2]) for one in sample} == set(mutants.ROOMS)
    assert mutants.sample(size=200, room="loans/") == [one for one in sample if one.file.startswith("loans/")]


def test_a_mutant_is_loaded_changed_and_the_file_stays_as_it_was(mutants):
    file = "loans/rules/due.py"
    before = (ROOT / file).read_bytes()
    (mutant,) = [
        one
        for one in mutants.mutants_of(file)
        if (one.line, one.change) == ("return date(returned_on.year + years, 3, 1)", "3 -> 4")
    ]
    changed: dict[str, Any] = {"__name__": "loans.rules.due"}
    exec(mutants.ChangedModule(mutant).get_code("loans.rules.due"), changed)  # noqa: S102  # the changed rule itself
    assert changed["keep_until"](returned_on=date(2024, 2, 29), years=1) == date(2025, 4, 1)
    assert keep_until(returned_on=date(2024, 2, 29), years=1) == date(2025, 3, 1)
    assert (ROOT / file).read_bytes() == before


def test_a_change_that_nothing_can_be_imported_with_is_noticed(mutants, monkeypatch):
    def fails(_: list[str]) -> int:
        raise ValueError("a module asked the changed rule as it was imported")

    monkeypatch.setattr(mutants.pytest, "main", lambda _: 0)
    assert mutants.passes([], seconds=9) is True
    monkeypatch.setattr(mutants.pytest, "main", fails)
    assert mutants.passes([], seconds=9) is False


def test_every_explanation_fits_a_possible_change(mutants):
    possible = {one.key for one in mutants.sample(size=0)}
    assert mutants.explanations().keys() - possible == set()
