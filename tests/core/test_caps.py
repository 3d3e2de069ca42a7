"""Each cap bites at its figure and not before, lets go when its time is over, and touches nobody it is not about."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.caps import DAY, HOUR, KNOWN, QUARTER, STRANGE, Source, Try, paused_until
from tests.factories import NOW

pytestmark = pytest.mark.pure
# Far apart, so that each test meets the one cap it is about.
MANY = {cap.setting: 1000 for cap in (*KNOWN, *STRANGE)}
STRANGER = Source(name="director", address="a", network="n", device="")
OWN = Source(name="director", address="a", network="n", device="phone")
SECOND = timedelta(seconds=1)


def tries(source: Source, count: int, *, changing: str = "", every: timedelta = SECOND) -> list[Try]:
    """So many tries up to a moment ago, each with another value in the column that changes."""
    return [
        Try(source._replace(**({changing: f"{changing}{number}"} if changing else {})), NOW - every * (number + 1))
        for number in range(count)
    ]


CASES = [  # setting, from where, what differs from try to try, within
    ("LOG_IN_TRIES", STRANGER, "", QUARTER),
    ("LOG_IN_TRIES", STRANGER, "address", QUARTER),
    ("LOG_IN_TRIES_PER_NAME", STRANGER, "network", HOUR),
    ("LOG_IN_TRIES_PER_ADDRESS", STRANGER, "name", QUARTER),
    ("LOG_IN_TRIES_PER_NETWORK", STRANGER, "address", HOUR),
    ("LOG_IN_NAMES_PER_NETWORK", STRANGER, "name", HOUR),
    ("LOG_IN_TRIES", OWN, "network", QUARTER),
]
NAMES = ["name-and-network", "one-network-many-addresses", "name", "address", "network", "names", "device"]


@pytest.mark.parametrize("case", CASES, ids=NAMES)
@pytest.mark.parametrize("most", [1, 7])
def test_a_cap_bites_exactly_at_its_figure_and_lets_go_when_its_time_is_over(case, most):
    setting, source, changing, within = case
    settings = MANY | {setting: most}
    here = source._replace(**({changing: "new"} if changing else {}))
    made = tries(source, most, changing=changing)
    assert paused_until(made[1:], source=here, at=NOW, settings=settings) is None
    until = paused_until(made, source=here, at=NOW, settings=settings)
    assert until == made[-1].at + within, "when the oldest of them is past"
    assert paused_until(made, source=here, at=until - SECOND, settings=settings) == until
    assert paused_until(made, source=here, at=until, settings=settings) is None


@pytest.mark.parametrize(
    ("setting", "changing", "other"),
    [
        ("LOG_IN_TRIES", "address", {"name": "x"}),
        ("LOG_IN_TRIES", "address", {"network": "x"}),
        ("LOG_IN_TRIES_PER_NAME", "network", {"name": "x"}),
        ("LOG_IN_TRIES_PER_ADDRESS", "name", {"address": "x"}),
        ("LOG_IN_TRIES_PER_NETWORK", "name", {"network": "x"}),
        ("LOG_IN_NAMES_PER_NETWORK", "name", {"network": "x"}),
    ],
)
def test_a_cap_keeps_out_nobody_it_is_not_about(setting, changing, other):
    settings = MANY | {setting: 3}
    made = tries(STRANGER, 9, changing=changing)
    here = STRANGER._replace(**{changing: "new"})
    assert paused_until(made, source=here, at=NOW, settings=settings)
    assert paused_until(made, source=here._replace(**other), at=NOW, settings=settings) is None


@pytest.mark.parametrize(
    ("setting", "source", "changing"),
    [("LOG_IN_TRIES", STRANGER, ""), ("LOG_IN_TRIES", OWN, ""), ("LOG_IN_TRIES_PER_NAME", STRANGER, "network")],
    ids=["name-and-network", "device", "name"],
)
def test_who_goes_on_and_on_at_one_name_waits_for_a_day(setting, source, changing):
    settings = MANY | {setting: 3}
    made = tries(source, 12, changing=changing, every=timedelta(minutes=61))
    here = source._replace(**({changing: "new"} if changing else {}))
    assert paused_until(made[:11], source=here, at=NOW, settings=settings) is None
    assert paused_until(made, source=here, at=NOW, settings=settings) == made[-1].at + DAY


def test_one_name_tried_often_is_one_of_the_names_a_network_may_try():
    settings = MANY | {"LOG_IN_NAMES_PER_NETWORK": 2}
    made = tries(STRANGER, 50)
    other = STRANGER._replace(name="tech")
    assert paused_until(made, source=other, at=NOW, settings=settings) is None
    assert paused_until([*made, Try(other, NOW)], source=other, at=NOW, settings=settings) == NOW - SECOND + HOUR


@given(
    st.lists(
        st.tuples(
            st.tuples(*(st.sampled_from("ab") for _ in range(3)), st.just("")).map(lambda row: Source(*row)),
            st.integers(0, 200).map(lambda minutes: NOW - timedelta(minutes=minutes)),
        ).map(lambda pair: Try(*pair)),
        max_size=30,
    ),
    st.integers(1, 6),
)
def test_a_pause_ends_at_the_time_it_says_if_nobody_tries(made, most):
    settings = dict.fromkeys(MANY, most)
    source = Source("a", "a", "a", "")
    until = paused_until(made, source=source, at=NOW, settings=settings)
    if until is None:
        return
    assert NOW < until <= NOW + DAY
    assert paused_until(made, source=source, at=until - SECOND, settings=settings) is not None
    assert paused_until(made, source=source, at=until, settings=settings) is None
