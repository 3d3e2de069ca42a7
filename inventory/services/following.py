"""What the rooms above keep of each instrument follows it: they register at start-up, the services here call them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Protocol

from core.models import User
from inventory.models import Inspection, PlayTest

Follower = Callable[[Sequence[int]], None]


class TestFollower(Protocol):
    def __call__(self, *, play_test: PlayTest, actor: User, at: datetime) -> None: ...


class ReturnFollower(Protocol):
    def __call__(self, *, inspection: Inspection, actor: User, at: datetime) -> None: ...


_followers: list[Follower] = []
_test_followers: list[TestFollower] = []
_return_followers: list[ReturnFollower] = []


def register(follower: Follower) -> None:
    """Have ``follower`` called with the keys of instruments that were registered or whose options changed."""
    if follower not in _followers:
        _followers.append(follower)


def register_of_tests(follower: TestFollower) -> None:
    """Have ``follower`` called with each play test, in the act that records it, and with who did so and when."""
    if follower not in _test_followers:
        _test_followers.append(follower)


def register_of_returns(follower: ReturnFollower) -> None:
    """Have ``follower`` called with each finished return inspection of what came back without one, in the same act."""
    if follower not in _return_followers:
        _return_followers.append(follower)


def instruments_changed(keys: Sequence[int]) -> None:
    """Call the followers, in the transaction of the change."""
    for follower in _followers:
        follower(keys)


def play_tested(*, play_test: PlayTest, actor: User, at: datetime) -> None:
    """Call those that follow play tests, in the transaction that keeps it."""
    for follower in _test_followers:
        follower(play_test=play_test, actor=actor, at=at)


def return_inspected(*, inspection: Inspection, actor: User, at: datetime) -> None:
    """Call those that wait for the inspection of what came back, in the transaction that finishes it."""
    for follower in _return_followers:
        follower(inspection=inspection, actor=actor, at=at)
