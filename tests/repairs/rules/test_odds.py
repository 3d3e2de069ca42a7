"""Posteriors and limits against published figures."""

from __future__ import annotations

import pytest

from repairs.rules.odds import ALL_KINDS, Odds, Posterior, Tally, Try, exact_interval, tally_tries


@pytest.mark.parametrize(
    ("freed", "tries", "low", "high"),
    [(4, 20, 0.0573340, 0.4366140), (1, 30, 0.0008436, 0.1721695), (100, 200, 0.4286584, 0.5713416)],
)
def test_exact_limits_are_those_of_the_statistics_packages(freed, tries, low, high):
    """R binom.confint and DescTools, as carried in the test data of statsmodels."""
    found = exact_interval(freed=freed, tries=tries)
    assert (found.low, found.high) == (pytest.approx(low, abs=1e-6), pytest.approx(high, abs=1e-6))


def test_exact_limits_of_eighteen_in_twenty():
    """R binom.confint, as carried in the test data of statsmodels."""
    found = exact_interval(freed=18, tries=20)
    assert (found.low, found.high) == (pytest.approx(0.6830173, abs=1e-6), pytest.approx(0.9876515, abs=1e-6))


@pytest.mark.parametrize(
    ("freed", "tries", "low", "high", "places"),
    [
        (4, 20, 0.0715201, 0.4082258, 6),
        (100, 200, 0.4311217, 0.5688783, 6),
        (0, 10, 0.0, 0.217, 3),
        (3, 10, 0.093, 0.606, 3),
    ],
)
def test_the_interval_of_a_belief_is_the_published_one(freed, tries, low, high, places):
    """Jeffreys' limits are those of a belief that began as Beta(1/2, 1/2).

    R binom.confint and DescTools for the first two; Brown, Cai and DasGupta 2001 (from memory) for n = 10.
    """
    belief = Posterior(alpha=freed + 0.5, beta=tries - freed + 0.5, default_p=0.5, freed=freed, tries=tries, scope="")
    found = belief.interval(level=0.95)
    within = 10.0**-places
    assert (found.low, found.high) == (pytest.approx(low, abs=within), pytest.approx(high, abs=within))


def test_limits_reach_the_ends_where_nothing_speaks_against_it():
    assert exact_interval(freed=0, tries=0) == exact_interval(freed=0, tries=0, level=0.5)
    assert (exact_interval(freed=0, tries=5).low, exact_interval(freed=5, tries=5).high) == (0.0, 1.0)
    with pytest.raises(ValueError, match="no share"):
        exact_interval(freed=3, tries=2)


def test_a_posterior_is_that_of_the_textbook():
    """Placenta praevia, uniform prior, 437 girls of 980 births: Gelman and others, Bayesian Data Analysis (from memory)."""
    found = Posterior(alpha=438, beta=544, default_p=0.5, freed=437, tries=980, scope=ALL_KINDS)
    limits = found.interval(level=0.95)
    assert found.mean == pytest.approx(0.446, abs=5e-4)
    assert (limits.low, limits.high) == (pytest.approx(0.415, abs=5e-4), pytest.approx(0.477, abs=5e-4))


def test_the_starting_guess_weighs_four_tries():
    odds = Odds(by_rung={("slide", "oil"): Tally(freed=7, tries=11)})
    found = odds.posterior(ladder="slide", rung="oil", default_p=0.35)
    assert found.mean == pytest.approx((7 + 4 * 0.35) / (11 + 4))
    assert found.sentence == "freed 7 of 11 here; starting guess 35%"


def test_without_tries_the_guess_stands_and_says_so():
    found = Odds().posterior(ladder="slide", rung="oil", default_p=0.3)
    assert (found.mean, found.sentence) == (pytest.approx(0.3), "not tried here yet; starting guess 30%")


def make_try(kind: str, *, is_freed: bool) -> Try:
    return Try(ladder="slide", rung="oil", kind=kind, role="tuning_slide", is_freed=is_freed)


def test_a_kind_speaks_for_itself_once_it_has_enough_tries():
    tries = [make_try("tuba", is_freed=False)] * 5 + [make_try("trumpet", is_freed=True)] * 10
    odds = tally_tries(tries)
    tuba = odds.posterior(ladder="slide", rung="oil", default_p=0.5, kind="tuba", role="tuning_slide")
    others = (10 + 4 * 0.5) / 14
    assert tuba.mean == pytest.approx((4 * others) / 9)
    assert tuba.sentence == "freed 0 of 5 here on tuba tuning slide; starting guess 50%"


def test_too_few_tries_of_a_kind_leave_all_kinds_to_speak():
    odds = tally_tries([make_try("tuba", is_freed=False)] * 4 + [make_try("trumpet", is_freed=True)] * 10)
    tuba = odds.posterior(ladder="slide", rung="oil", default_p=0.5, kind="tuba", role="tuning_slide")
    assert (tuba.freed, tuba.tries, tuba.scope) == (10, 14, ALL_KINDS)


def test_a_try_counts_for_its_own_rung_alone():
    odds = tally_tries([make_try("tuba", is_freed=True)] * 8)
    assert odds.posterior(ladder="slide", rung="heat", default_p=0.35).mean == pytest.approx(0.35)


@pytest.mark.parametrize(("beta", "share"), [(1, 0.7), (3, 0.7), (4, 0.5)])
def test_the_quantile_of_a_belief_is_that_of_the_closed_form(beta, share):
    """Beta(1, b) has the distribution function 1 - (1 - p)^b."""
    belief = Posterior(alpha=1.0, beta=beta, default_p=0.25, freed=0, tries=0, scope="")
    assert belief.quantile(share) == pytest.approx(1 - (1 - share) ** (1 / beta))


def test_a_belief_without_doubt_is_its_own_quantile():
    assert Posterior(alpha=0.0, beta=4.0, default_p=0.0, freed=0, tries=0, scope="").quantile(0.7) == 0.0
