"""Everything stored that follows from rules, catalog and the district's figures, computed again."""

from __future__ import annotations

from datetime import datetime

from core.models import User
from inventory.selectors.figures import enter, in_force
from inventory.services.figures import note_recomputed
from inventory.services.refreshing import refresh_all_states
from repairs.services.care import refresh_all_care


def recompute_all(*, because: str, actor: User | None, at: datetime) -> tuple[int, int]:
    """Store verdicts, readiness and days of care as they follow from the facts now; how many of each changed.

    Two acts, so that nobody waits for the second; a third keeps that all of it follows the figures that were in force
    when it began. Somebody who sets another figure meanwhile has it done once more.
    """
    enter(at)
    judged_by = in_force(at=at).judged_by
    states = refresh_all_states(because=because, actor=actor, at=at)
    care = refresh_all_care(because=because, actor=actor, at=at)
    note_recomputed(judged_by=judged_by, actor=actor, at=at)
    return states, care
