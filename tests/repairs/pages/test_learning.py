"""What the learning page says, from attempts made one by one."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from scipy import stats

from inventory.catalog.load import catalog
from repairs.models import Attempt
from repairs.pages.learning import learning_page
from repairs.selectors.learning import learned_odds
from repairs.selectors.planning import learned
from repairs.selectors.promises import method_lines
from tests.repairs.makers import do_next, make_job


def tried(school, tech, *outcomes: str, minutes: int = 3) -> Attempt:
    bench = make_job(school=school, actor=tech).bench
    for outcome in outcomes:
        do_next(make_job(school=school, actor=tech, bench=bench), outcome, minutes=Decimal(minutes))
    attempt = Attempt.objects.order_by("pk").first()
    assert attempt is not None
    return attempt


def test_a_rung_says_its_record_beside_its_starting_guess(school, tech):
    attempt = tried(school, tech, "freed", "still_stuck", "freed")
    page = learning_page()
    (ladder,) = page["tried"]
    line = next(one for one in ladder["rungs"] if one["tries"])
    assert line["rung"].code == attempt.rung
    assert line["sentence"] == f"freed 2 of 3 here; starting guess {line['rung'].p * 100:.0f}%"
    assert (page["tries"], len(page["untried"])) == (3, len(catalog().ladders) - 1)


def test_the_limits_are_those_of_the_belief(school, tech):
    """Beta(4 p + freed, 4 (1 - p) + failed), its quantiles by scipy's own distribution."""
    tried(school, tech, "freed", "still_stuck", "freed")
    line = next(one for one in learning_page()["tried"][0]["rungs"] if one["tries"])
    p = line["rung"].p
    belief = stats.beta(4 * p + 2, 4 * (1 - p) + 1)
    assert line["percent"] == round(belief.mean() * 100)
    assert (line["low"], line["high"]) == (round(belief.ppf(0.025) * 100), round(belief.ppf(0.975) * 100))


def test_a_kind_and_part_speak_for_themselves_from_the_district_s_number_on(school, tech):
    tried(school, tech, *["freed"] * 4)
    assert not any(line["by_kind"] for line in learning_page()["tried"][0]["rungs"])
    tried(school, tech, "still_stuck")
    line = next(one for one in learning_page()["tried"][0]["rungs"] if one["tries"])
    assert line["by_kind"][0].startswith("trumpet valve slide: freed 4 of 5")


def test_the_district_s_own_figures_weigh_the_guess(school, tech, monkeypatch):
    tried(school, tech, "freed")
    figures = dict(catalog().settings) | {"prior_weight": Decimal(40), "own_rate_after": Decimal(2)}
    monkeypatch.setattr("repairs.selectors.learning.catalog", lambda: _Figures(figures))
    odds = learned_odds()
    assert (odds.prior_weight, odds.fine_tries) == (40.0, 2)


class _Figures:
    """The catalog with other figures."""

    def __init__(self, figures: dict[str, Decimal]) -> None:
        self.settings = figures

    def __getattr__(self, name: str):
        return getattr(catalog(), name)


def test_a_method_says_what_was_recorded_against_its_estimate(school, tech):
    tried(school, tech, *["freed"] * 5, minutes=30)
    (line,) = method_lines(learned())
    assert (line.records, line.median) == (5, 30.0)
    assert line.ratio == pytest.approx(30 / line.start.likely)
    assert line.runs_over
    assert line.now.likely > line.start.likely
    assert line.percent_over == round((line.ratio - 1) * 100)


def test_three_long_times_are_not_called_running_over(school, tech):
    tried(school, tech, *["freed"] * 3, minutes=30)
    assert not method_lines(learned())[0].runs_over


def test_before_anything_is_done_there_are_starting_guesses_alone(db):
    page = learning_page()
    assert (page["tried"], page["methods"], page["kept"].jobs) == ([], (), 0)
    assert len(page["untried"]) == len(catalog().ladders)


def test_what_was_learned_is_worked_out_once_until_there_is_more(school, tech):
    tried(school, tech, "freed")
    learning_page()
    with CaptureQueriesContext(connection) as caught:
        learning_page()
    assert len(caught) == 3
    before = learning_page()["records"]
    tried(school, tech, "freed")
    assert learning_page()["records"] > before
