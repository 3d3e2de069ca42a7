"""One random source and one clock."""

from __future__ import annotations

import random

import pytest

from desk.demo.stage import Stage, read_data
from inventory.services.registering import TOKEN_LENGTH, TOKEN_LETTERS
from tests.desk.demo.stages import make_stage
from tests.factories import TODAY


def test_the_same_seed_draws_the_same():
    one, other = make_stage(seed=7), make_stage(seed=7)
    assert [(one.token(), one.nonce(), one.moment(-3)) for _ in range(5)] == [
        (other.token(), other.nonce(), other.moment(-3)) for _ in range(5)
    ]


def test_another_seed_draws_otherwise():
    assert make_stage(seed=7).token() != make_stage(seed=8).token()


def test_moments_are_local_hours_of_the_day_counted_from_today():
    at = make_stage().at(-30, 9, 15)
    assert (at.date(), at.hour, at.minute, at.utcoffset() is not None) == (
        TODAY.replace(month=8, day=15), 9, 15, True,
    )  # fmt: skip


def test_tokens_are_like_real_ones():
    token = make_stage().token()
    assert len(token) == TOKEN_LENGTH
    assert set(token) <= set(TOKEN_LETTERS)


@pytest.mark.parametrize(("share", "count", "some"), [(1.0, 8, 8), (0.5, 8, 4), (0.1, 3, 0), (0.0, 100, 0)])
def test_a_share_of_a_number(share, count, some):
    assert Stage(today=TODAY, rng=random.Random(1), share=share).some(count) == some


@pytest.mark.parametrize("name", ["district", "fleet", "gift", "names"])
def test_the_files_of_the_demo_can_be_read(name):
    assert read_data(name)


def test_the_fleet_with_the_gift_is_about_two_hundred_and_forty():
    held = sum(count for kinds in read_data("fleet").values() for count in kinds.values()) + len(
        read_data("gift")["items"]
    )
    assert 225 <= held <= 250
