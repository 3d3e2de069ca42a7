"""Screens show the first lines of a long plan's lists. Common practice, no source."""

from __future__ import annotations

from typing import Any

from desk.pages.season_shown import FIRST, GROUPED, PLAIN, first_of


def plan(*, is_long: bool = True) -> dict[str, Any]:
    groups = [{"name": size, "lines": list(range(size))} for size in (FIRST - 10, 25, 40)]
    lines = [{"number": n} for n in range(FIRST + 3)]
    return {"is_long": is_long, "seated": 7} | dict.fromkeys(GROUPED, groups) | dict.fromkeys(PLAIN, lines)


def test_a_long_plan_is_cut_after_the_first_lines_and_says_how_many_more_there_are():
    page = plan()
    shown = first_of(page, whole="")
    assert [(one["name"], len(one["lines"])) for one in shown["ensembles"]] == [(FIRST - 10, FIRST - 10), (25, 10)]
    assert shown["sent"] == page["sent"][:FIRST]
    assert shown["beyond"] == dict.fromkeys(GROUPED, 55) | dict.fromkeys(PLAIN, 3)
    assert (shown["seated"], page) == (7, plan()), "the paper has all of it"


def test_one_list_is_shown_whole_when_asked_for_and_a_short_plan_always():
    page = plan()
    whole = first_of(page, whole="ensembles")
    assert whole["ensembles"] == page["ensembles"]
    assert whole["beyond"].keys() == {*GROUPED, *PLAIN} - {"ensembles"}
    assert first_of(plan(is_long=False), whole="") == plan(is_long=False) | {"beyond": {}}
    assert first_of(page, whole="acts") == first_of(page, whole="")
