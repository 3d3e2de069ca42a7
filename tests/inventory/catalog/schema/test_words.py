"""The words that rules compare."""

from __future__ import annotations

from inventory.catalog.schema import Effect, Severity


def test_severities_rank_from_light_to_severe():
    assert sorted(Severity, key=lambda one: one.rank) == [Severity.LIGHT, Severity.MODERATE, Severity.SEVERE]


def test_effects_stand_from_looks_to_harm():
    """Rules take the worst of several by this order."""
    assert (next(iter(Effect)), list(Effect)[-2:]) == (Effect.LOOKS_ONLY, [Effect.STOPS_SOUND, Effect.UNSAFE])
