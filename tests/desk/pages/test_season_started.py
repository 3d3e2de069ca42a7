"""What would be started, what was not, and what was, in words. Common practice, no source."""

from __future__ import annotations

import pytest

from desk.pages.season_started import start_words, started_page, stopped_words
from desk.selectors.season_started import StartedSeason
from repairs.models import Bench


def page(jobs: int, *bought: int, orders: int = 0) -> dict:
    return {"to_start": ["N"] * jobs, "to_send": ["S"] * orders, "to_request": [{"left": count} for count in bought]}


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ({}, page(0)),
        ({"jobs": "Open 1 job"}, page(1)),
        ({"purchases": "Request 1 instrument"}, page(0, 1)),
        ({"jobs": "Open 3 jobs", "purchases": "Request 5 instruments"}, page(3, 2, 3)),
        ({"orders": "Write 2 shop orders"}, page(0, orders=2)),
    ],
)
def test_the_button_counts_what_it_does(words, shown):
    assert start_words(shown) == words


def test_the_first_that_were_left_out_are_named_and_the_rest_counted():
    assert list(stopped_words({"TD-1": "It is gone."})) == ["TD-1 skipped: It is gone."]
    said = list(stopped_words({f"TD-{number}": "Why." for number in range(12)}))
    assert len(said) == 11
    assert said[-1] == "2 more were skipped."


def test_the_shopping_list_is_that_of_the_bench():
    shown = started_page(StartedSeason((), (), {Bench(pk=1, code="elm", name="Elm bench"): 4}))
    assert shown["to_buy"] == [{"bench": "Elm bench", "count": 4, "url": "/bench/stock/elm/shopping/?jobs=60"}]
