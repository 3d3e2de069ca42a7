"""Outcomes of an attempt."""

from __future__ import annotations

import pytest

from repairs.rules.facts import Outcome


@pytest.mark.parametrize("outcome", list(Outcome))
def test_an_outcome_is_a_success_a_halt_or_neither(outcome):
    assert outcome.is_success == (outcome in {Outcome.DONE, Outcome.FREED})
    assert outcome.is_halt == (outcome in {Outcome.STOPPED, Outcome.DAMAGED})
    assert not (outcome.is_success and outcome.is_halt)
