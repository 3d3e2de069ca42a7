"""What the rooms above keep of each instrument follows it: they register at start-up, the services here call them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

Follower = Callable[[Sequence[int]], None]

_followers: list[Follower] = []


def register(follower: Follower) -> None:
    """Have ``follower`` called with the keys of instruments that were registered or whose options changed."""
    if follower not in _followers:
        _followers.append(follower)


def instruments_changed(keys: Sequence[int]) -> None:
    """Call the followers, in the transaction of the change."""
    for follower in _followers:
        follower(keys)
