"""What the notes of a play test say about the instrument: the diagnosis of the rules, computed once and kept."""

from __future__ import annotations

from functools import lru_cache, partial

from inventory.models import Instrument, PlayTest
from inventory.rules.diagnose import Diagnosis, Heard, Prediction, UnknownNotesError, diagnose, predictions
from inventory.rules.standing import Standing
from inventory.selectors.standing import standing_for


def diagnosis_of(test: PlayTest, instrument: Instrument) -> Diagnosis | None:
    """Diagnose the notes that were bad; None without any, and where the chart has changed since the test."""
    if not (test.failed_notes or test.weak_notes):
        return None
    heard = Heard(
        failed=tuple(test.failed_notes),
        weak=tuple(test.weak_notes),
        tried=tuple(test.tried_notes),
        tells_weak=True,
    )
    return _diagnosis(standing_for(instrument.kind_code, instrument.options), heard)


@lru_cache(maxsize=256)
def _diagnosis(healthy: Standing, heard: Heard) -> Diagnosis | None:
    """Computed once: it tries every fault at every place, too slow for each request."""
    try:
        return diagnose(
            heard,
            kind=healthy.kind,
            chart=healthy.chart,
            faults=healthy.catalog.faults,
            predict=partial(predictions_at, healthy),
        )
    except UnknownNotesError:
        return None


@lru_cache(maxsize=128)
def predictions_at(healthy: Standing, level: str) -> tuple[Prediction, ...]:
    """Which notes of a level each fault would spoil."""
    trade = healthy.catalog
    return predictions(
        healthy.kind,
        level,
        chart=healthy.chart,
        options=healthy.options,
        faults=trade.faults,
        roles=trade.roles,
    )
