"""Two people at the same moment, each with a database connection of their own."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from django.db import connection

from inventory.exceptions import RefusedError


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """Run the acts in threads that start together; returns what each gave back, or the refusal it met."""
    results: list[Any] = [None] * len(acts)
    gate = threading.Barrier(len(acts))

    def run(number: int, act: Callable[[], Any]) -> None:
        gate.wait(timeout=10)
        try:
            results[number] = act()
        except RefusedError as error:
            results[number] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    return results
