"""Two people at once, each on a connection of their own: a few rounds in every suite, many in the drill."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import Any

import pytest
from django.db import connections

from core.exceptions import RefusedError
from tests.opening import differences

Act = Callable[[], Any]
A_FEW, MANY = 2, 40


def at_once(*acts: Act) -> list[Any]:
    """Do all of them at the same moment, each on a connection of its own; a refusal is an answer, a fault is raised."""
    start, answers = threading.Barrier(len(acts)), [None] * len(acts)

    def run(place: int, act: Act) -> None:
        try:
            start.wait(timeout=30)
            answers[place] = act()
        except Exception as error:  # noqa: BLE001  # handed to the test's own thread
            answers[place] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=120)
    for answer in answers:
        if isinstance(answer, Exception) and not isinstance(answer, RefusedError):
            raise answer
    return answers


def went_well(answers: Sequence[Any]) -> list[Any]:
    return [answer for answer in answers if not isinstance(answer, RefusedError)]


def contests(*acts: Act) -> pytest.MarkDecorator:
    """Give a test each contest with a few rounds, and in the drill with many."""
    few = [pytest.param(act, A_FEW, id=act.__name__) for act in acts]
    many = [pytest.param(act, MANY, id=f"{act.__name__}-many", marks=pytest.mark.drill) for act in acts]
    return pytest.mark.parametrize(("contest", "rounds"), [*few, *many])


def wrong_after(contest: Act, rounds: int) -> list[str]:
    """What is stored but does not follow from what happened, after so many rounds."""
    for _ in range(rounds):
        contest()
    return differences()[1]
