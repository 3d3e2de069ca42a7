"""The whole proposal: cases worked by hand, and random bands against every way there is."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loans.rules.assigning import Keeps, Weights, assign, points_of, stop_of
from loans.rules.assigning.fit import left_without
from tests.loans.rules.assigning.brute_force import best_ways
from tests.loans.rules.assigning.makers import WEIGHTS, offer, wish


def proposed(wanted, offers, *, seed=1, **more):
    return assign(wanted, offers, weights=WEIGHTS, seed=seed, **more)


def got(proposal):
    return [line.offer.key if line.offer else None for line in proposal.lines]


def codes(line):
    return [reason.code for reason in line.why]


def test_the_same_instrument_comes_back_and_says_so():
    wanted, offers = [wish(had=5), wish(had=6)], [offer(key=6), offer(key=5), offer(key=4)]
    proposal = proposed(wanted, offers)
    assert got(proposal) == [5, 6]
    assert [codes(line) for line in proposal.lines] == [["same"], ["same"]]
    assert [one.key for one in proposal.unused] == [4]
    assert (proposal.served, proposal.points) == (2, 0)


def test_the_better_make_goes_to_the_higher_level():
    wanted = [wish(level="first_year"), wish(level="concert"), wish(level="second_year")]
    offers = [offer(key=1, is_better=True), offer(key=2), offer(key=3)]
    proposal = proposed(wanted, offers)
    assert got(proposal)[1] == 1
    assert codes(proposal.lines[1]) == ["fits"]
    assert codes(proposal.lines[2])[:1] == ["too_plain"]


def test_limits_go_to_those_they_do_not_touch():
    limited = offer(key=1, condition=2, misses={"concert": "loses B5"})
    wanted = [wish(level="concert"), wish()]
    assert got(proposed(wanted, [limited, offer(key=2)])) == [2, 1]


def test_who_had_limits_does_not_get_them_again():
    limited = {"condition": 2}
    wanted = [wish(had=8, had_limits=True), wish(had=9)]
    proposal = proposed(wanted, [offer(key=8, **limited), offer(key=9)])
    assert got(proposal) == [9, 8]


def test_with_too_few_the_first_ensemble_comes_first_and_then_the_longest_wait():
    wanted = [wish(priority=2, waited_days=900), wish(priority=1), wish(priority=1, waited_days=60)]
    proposal = proposed(wanted, [offer(key=1)])
    assert got(proposal) == [1, None, None]  # thirty months outweigh one place: 60 points against 10
    proposal = proposed(wanted[1:], [offer(key=1)])
    assert got(proposal) == [None, 1]
    assert codes(proposal.lines[0]) == ["too_few"]


def test_who_goes_without_never_hangs_on_which_instrument_fits():
    """Serving the first would change an instrument and cost points; the second would have had the same one."""
    wanted = [wish(priority=1, had=99, level="concert"), wish(priority=2, had=1)]
    assert got(proposed(wanted, [offer(key=1, condition=2)])) == [1, None]


@pytest.mark.parametrize(
    ("offers", "code", "number"),
    [
        pytest.param([], "no_kind", 0, id="no instrument of the kind"),
        pytest.param([{"kind": "flute"}, {"pool": 2}], "no_kind", 0, id="only another kind or school"),
        pytest.param([{"size": "4/4"}], "no_size", 0, id="only another size"),
        pytest.param([{"keeps": Keeps.BENCH}] * 2, "all_bench", 2, id="all on the bench"),
        pytest.param([{"keeps": Keeps.OUT}], "all_out", 1, id="all with students"),
        pytest.param([{"keeps": Keeps.BENCH}, {"keeps": Keeps.OTHER}], "all_kept", 2, id="none may go out"),
        pytest.param(
            [{"misses": {"first_year": "loses D4"}}, {"keeps": Keeps.BENCH}], "only_limits", 1, id="limits in the way"
        ),
        pytest.param([{"keeps": Keeps.CLEANING}, {"keeps": Keeps.OUT}], "only_unclean", 1, id="not clean"),
    ],
)
def test_who_gets_none_is_told_why(offers, code, number):
    size = "1/2" if code == "no_size" else ""
    proposal = proposed([wish(size=size)], [offer(**({"size": size} | one)) for one in offers])
    (line,) = proposal.lines
    assert line.offer is None
    assert [(reason.code, reason.number) for reason in line.why] == [(code, number)]


def test_a_lot_is_said_to_be_one():
    proposal = proposed([wish(), wish()], [offer(key=1)])
    assert sorted(codes(line) for line in proposal.lines) == [["fits", "drawn"], ["too_few", "drawn"]]
    assert {line.chances for line in proposal.lines} == {2}


def test_the_last_player_may_have_it_before_it_is_clean_and_is_told_to_clean_it():
    mine = wish(player=3, had=1)
    proposal = proposed([mine, wish()], [offer(key=1, keeps=Keeps.CLEANING, last_player=3)])
    assert got(proposal) == [1, None]
    assert codes(proposal.lines[0]) == ["same", "clean_first"]


def test_fixed_lines_stand_and_the_others_are_solved_around_them():
    wanted, offers = [wish(had=1), wish(), wish()], [offer(key=1), offer(key=2), offer(key=3)]
    fixed = {wanted[1].key: 1, wanted[2].key: None}
    proposal = proposed(wanted, offers, fixed=fixed, excluded={2})
    assert got(proposal) == [3, 1, None]
    assert [line.is_fixed for line in proposal.lines] == [False, True, True]
    assert codes(proposal.lines[1]) == ["fixed"]
    assert codes(proposal.lines[2]) == ["fixed_none"]
    assert proposal.unused == ()  # the third is used, the second is excluded


def test_a_fixed_line_may_go_against_the_rules_and_says_so():
    wanted = [wish(), wish(), wish()]
    offers = [
        offer(key=1, misses={"first_year": "loses D4"}, condition=2),
        offer(key=2, keeps=Keeps.BENCH),
        offer(key=3, kind="flute"),
    ]
    fixed = {one.key: offer.key for one, offer in zip(wanted, offers, strict=True)}
    proposal = proposed(wanted, offers, fixed=fixed)
    assert [codes(line) for line in proposal.lines] == [
        ["fixed", "despite_notes", "limits"],
        ["fixed", "despite_kept"],
        ["fixed", "despite_kind"],
    ]


@pytest.mark.parametrize("fixed", [{"a": 1, "b": 1}, {"a": 2}], ids=["twice", "not there"])
def test_what_cannot_be_fixed_is_refused(fixed):
    with pytest.raises(ValueError, match="fixed instrument"):
        proposed([wish(key="a"), wish(key="b")], [offer(key=1)], fixed=fixed)


levels = st.sampled_from(["first_year", "second_year", "concert"])
keys = st.one_of(st.none(), st.integers(0, 5))
wishes = st.builds(
    lambda n, **facts: wish(key=f"k{n}", player=n, **facts),
    st.integers(0, 5),
    level=levels,
    size=st.sampled_from(["", "", "1/2"]),
    priority=st.sampled_from([1, 2]),
    waited_days=st.sampled_from([0, 40]),
    had=keys,
    had_limits=st.booleans(),
)
instruments = st.builds(
    offer,
    key=st.integers(0, 5),
    size=st.sampled_from(["1/2", "3/4"]),
    is_better=st.booleans(),
    condition=st.integers(0, 2),
    keeps=st.sampled_from([Keeps.NOTHING, Keeps.NOTHING, Keeps.NOTHING, Keeps.CLEANING, Keeps.BENCH]),
    last_player=keys,
    misses=st.sampled_from([{}, {}, {"concert": "loses B5"}]),
)
weight = st.integers(0, 9)


@given(
    st.lists(wishes, min_size=1, max_size=5, unique_by=lambda one: one.key),
    st.lists(instruments, max_size=5, unique_by=lambda one: one.key),
    st.builds(Weights, same=weight, level=weight, condition=weight, fairness=weight, priority=weight, waited=weight),
    st.integers(0, 2**63),
    st.randoms(use_true_random=False),
)
@settings(max_examples=120, deadline=None)
def test_a_band_is_served_as_well_as_can_be_in_whatever_order_it_comes(wanted, offers, weights, seed, generator):
    points = [
        [-1 if stop_of(one, offer) else sum(r.points for r in points_of(one, offer, weights)) for offer in offers]
        for one in wanted
    ]
    every = best_ways(points, [left_without(one, weights) for one in wanted])[1]
    proposal = assign(wanted, offers, weights=weights, seed=seed)
    places = {one.key: number for number, one in enumerate(offers)}
    assert tuple(places[key] if key is not None else -1 for key in got(proposal)) in every
    before = {line.wanted.key: line for line in proposal.lines}
    shuffled, others = list(wanted), list(offers)
    generator.shuffle(shuffled)
    generator.shuffle(others)
    after = assign(shuffled, others, weights=weights, seed=seed)
    assert {line.wanted.key: line for line in after.lines} == before


def test_new_names_change_only_what_the_lot_decides():
    """The served, the points and how many outcomes were as good are the same under any keys."""
    wanted = [wish(had=n % 3, priority=1 + n % 2, level="concert" if n % 4 == 0 else "first_year") for n in range(9)]
    offers = [offer(key=n, condition=n % 3, is_better=n == 2) for n in range(6)]
    renamed = [replace(one, key=f"other{number}") for number, one in enumerate(reversed(wanted))]
    first, second = proposed(wanted, offers), proposed(renamed, offers)
    assert (first.served, first.points) == (second.served, second.points)
    assert sorted(line.chances for line in first.lines) == sorted(line.chances for line in second.lines)
    assert [line.chances for line in first.lines] == [line.chances for line in reversed(second.lines)]
