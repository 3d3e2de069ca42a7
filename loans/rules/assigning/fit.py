"""One student and one instrument: may they go together, and what speaks against it."""

from __future__ import annotations

from loans.rules.assigning.facts import Keeps, Offer, Reason, Stop, Wanted, Weights

# In half steps from a student's make (0) to a better one (2). Outdoors a student's make is enough. Common practice.
LEVEL_CALLS_FOR = {"first_year": 0, "second_year": 1, "concert": 2, "marching": 0}
BETTER = 2
LIMITED = 2  # the condition of an instrument with limits
LAST_PRIORITY = 9
DAYS_OF_MONTH = 30
MOST_MONTHS = 60


def stop_of(wanted: Wanted, offer: Offer) -> Stop | None:
    """Return what rules the pair out, or None. The order is that in which a director would ask."""
    if offer.pool != wanted.pool:
        return Stop.POOL
    if offer.kind != wanted.kind:
        return Stop.KIND
    if wanted.size and offer.size != wanted.size:
        return Stop.SIZE
    if offer.keeps is Keeps.CLEANING:
        if offer.last_player != wanted.player:
            return Stop.SHARED
    elif offer.keeps is not Keeps.NOTHING:
        return Stop.KEPT
    return Stop.NOTES if wanted.level in offer.misses else None


def points_of(wanted: Wanted, offer: Offer, weights: Weights) -> tuple[Reason, ...]:
    """Return what speaks against a pair that may go together; their points add up. Empty: nothing does."""
    against = []
    if wanted.had is not None and wanted.had != offer.key and not wanted.had_limits:
        against.append(Reason("changed", weights.same))
    has, calls_for = BETTER if offer.is_better else 0, LEVEL_CALLS_FOR.get(wanted.level, 0)
    if has > calls_for:
        against.append(Reason("too_good", weights.level * (has - calls_for)))
    elif has < calls_for:
        against.append(Reason("too_plain", weights.level * (calls_for - has)))
    if offer.condition:
        code = "limits" if offer.condition >= LIMITED else "worn"
        against.append(Reason(code, weights.condition * offer.condition))
    if wanted.had_limits and offer.condition >= LIMITED:
        against.append(Reason("limits_again", weights.fairness))
    return tuple(against)


def left_without(wanted: Wanted, weights: Weights) -> int:
    """Return the points against leaving this student without an instrument where there are too few."""
    places = max(LAST_PRIORITY - wanted.priority, 0)
    months = min(max(wanted.waited_days, 0) // DAYS_OF_MONTH, MOST_MONTHS)
    return weights.priority * places + weights.waited * months
