"""Empties event log and ledger between tests that commit: the database refuses that, so their guards are down meanwhile.

In the tests themselves they stand as everywhere.
"""

from __future__ import annotations

from typing import Any

import pytest
from django.test import TransactionTestCase

from core.log_guard import unguarded
from loans.guard import LEDGER_GUARD


def _flushed_unguarded(flush: Any) -> Any:
    def teardown(self: TransactionTestCase) -> None:
        with unguarded(), LEDGER_GUARD.down():
            flush(self)

    return teardown


@pytest.hookimpl(tryfirst=True)
def pytest_configure() -> None:
    TransactionTestCase._fixture_teardown = _flushed_unguarded(TransactionTestCase._fixture_teardown)  # type: ignore[method-assign]
