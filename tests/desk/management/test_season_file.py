"""A season in a file: what it means, and a sentence for whatever does not fit."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from desk.management.season_file import SHAPE, SeasonFileError, amount_of, read_season
from desk.rules.season_plan import Action, Budgets, Candidate, Goal, Option, Purchase, Season, Seats


def read(raw: Any) -> Season:
    return read_season(json.loads(json.dumps(raw), parse_float=Decimal))


def test_the_example_of_the_help_is_read_as_it_says():
    lines = SHAPE.splitlines()
    end = lines.index("}")
    example = "\n".join(line.split("   ")[0] if line.startswith(('  "start"', '  "goal"')) else line
                        for line in lines[1 : end + 1])  # fmt: skip
    assert read_season(json.loads(example, parse_float=Decimal)) == Season(
        seats=(Seats("wind-trumpet", "trumpet", count=6, level="concert", needed_by=date(2027, 8, 20)),),
        candidates=(
            Candidate(
                "TR-0001", "trumpet", is_ready=True, levels=frozenset({"first_year"}),
                options=(
                    Option(Action.REPAIR, "main", Decimal("2.5"), Decimal(12), ready_on=date(2027, 7, 1)),
                    Option(
                        Action.SEND_OUT, shop_amount=Decimal(180), ready_on=date(2027, 7, 1),
                        levels=frozenset({"first_year", "concert"}),
                    ),
                ),
            ),
        ),
        purchases=(Purchase("new-trumpet", "trumpet", Decimal(900), limit=2, ready_on=date(2027, 7, 25)),),
        budgets=Budgets(Decimal(40), Decimal(500), Decimal(800), Decimal(0)),
    )  # fmt: skip


def test_what_is_left_out_asks_for_nothing_and_limits_nothing():
    season = read({"seats": [{"kind": "tuba"}], "candidates": [{"id": "A", "kind": "tuba"}]})
    assert season == Season((Seats("seats 1", "tuba"),), (Candidate("A", "tuba"),))
    assert (season.goal, list(season.budgets.limits())) == (Goal.PRIORITY, [])


def test_hours_may_be_given_by_bench():
    season = read({"seats": [{"kind": "tuba"}], "budgets": {"bench_hours": {"main": 3, "annex": "1.50"}}})
    assert season.budgets.bench_hours == {"main": Decimal(3), "annex": Decimal("1.5")}


def whole(**overrides: Any) -> dict[str, Any]:
    return {"seats": [{"kind": "tuba"}]} | overrides


def horn(**overrides: Any) -> dict[str, Any]:
    return whole(candidates=[{"id": "A", "kind": "tuba"} | overrides])


def option(**overrides: Any) -> dict[str, Any]:
    return horn(options=[{"do": "repair"} | overrides])


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        ([], "the file: must be an object"),
        ({}, "seats must be a list of at least one"),
        (whole(seats={}), "seats must be a list"),
        (whole(seats=[]), "at least one"),
        (whole(seats=[3]), "seats 1: must be an object"),
        (whole(seats=[{}]), "seats 1: kind is missing"),
        (whole(seats=[{"kind": 5}]), "kind must be a string"),
        (whole(seats=[{"kind": "tuba", "count": -1}]), "count must be a whole number from 0"),
        (whole(seats=[{"kind": "tuba", "count": True}]), "count must be a whole number"),
        (whole(seats=[{"kind": "tuba", "count": 1.5}]), "count must be a whole number"),
        (whole(seats=[{"kind": "tuba", "priority": 0}]), "priority must be a whole number from 1"),
        (whole(seats=[{"kind": "tuba", "weight": 0}]), "weight must be above 0"),
        (whole(seats=[{"kind": "tuba", "needed_by": "August"}]), "needed_by must be a date"),
        (whole(seats=[{"kind": "tuba", "color": "red"}]), "color is not known; expected count"),
        (whole(seats=[{"id": "a", "kind": "tuba"}] * 2), "seats: the id 'a' is given twice"),
        (whole(extra=1), "the file: extra is not known"),
        (whole(goal="all"), "goal must be one of priority, most"),
        (whole(start=5), "start must be a string"),
        (whole(candidates=[{"kind": "tuba"}]), "candidate 1: id is missing"),
        (horn(ready="yes"), "candidate 'A': ready must be true or false"),
        (horn(levels="concert"), "levels must be a list of strings"),
        (horn(options={}), "options must be a list"),
        (horn(id="buy tuba") | {"purchases": [{"kind": "tuba", "price": 5}]}, "'buy tuba' is given twice"),
        (option(do="buy"), "candidate 'A', option 1: do must be repair or send_out"),
        (option(do=None), "do is missing"),
        (option(hours="two"), "hours must be a number"),
        (option(hours=-1), "hours must be a number from 0"),
        (option(hours=0.125), "hours must have at most two places"),
        (option(parts="1e99"), "parts must be a number from 0"),
        (option(parts="NaN"), "parts must be a number from 0"),
        (option(parts=[1]), "parts must be a number"),
        (option(price=True), "price must be a number"),
        (option(lead_days=4), 'lead_days need a "start"'),
        (option(lead_days=4, ready_on="2027-01-01"), "cannot both be given"),
        (option(lead_days=-4) | {"start": "2027-01-01"}, "lead_days must be a whole number"),
        (option(lead_days=400) | {"start": "9999-01-01"}, "past the last year"),
        (whole(purchases=[{"kind": "tuba"}]), "purchase 1: price is missing"),
        (whole(purchases=[{"kind": "tuba", "price": 5, "limit": -1}]), "limit must be a whole number"),
        (whole(budgets=[]), "budgets: must be an object"),
        (whole(budgets={"shop_money": "lots"}), "budgets: shop_money must be a number"),
        (whole(budgets={"bench_hours": {"main": -2}}), "budgets: bench_hours: main must be a number from 0"),
        (option(bench="annex", hours=1) | {"budgets": {"bench_hours": {"main": 2}}}, "bench 'annex' is not among"),
    ],
)  # fmt: skip
def test_whatever_does_not_fit_is_said_with_its_place(raw, words):
    with pytest.raises(SeasonFileError) as refusal:
        read(raw)
    assert words in str(refusal.value)


def test_amounts_are_exact():
    assert [amount_of(raw) for raw in (3, "0.10", Decimal("2.50"))] == [Decimal(3), Decimal("0.1"), Decimal("2.5")]
