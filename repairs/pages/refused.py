"""A refused decision on the pages of its instrument: said on top, and the step of its job that it stops."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from core.models import User
from repairs.models import Job, WorthDecision
from repairs.pages.job import StepCard
from repairs.selectors.decisions import is_stopped
from repairs.selectors.planning import PROVING
from repairs.selectors.refusals import refusal_text, refusal_title


def refusal_notice(decision: WorthDecision, *, reader: User) -> dict[str, Any]:
    """Return the refusal as its pages say it on top, with whether it is the reader who still has to read it."""
    return {
        "decision": decision, "title": refusal_title(decision), "text": refusal_text(decision),
        "is_unread": decision.answer_read_at is None and decision.decided_by_id == reader.pk,
    }  # fmt: skip


def stopped_card(card: StepCard | None, *, job: Job, refused: WorthDecision) -> StepCard | None:
    """Return the step shown large, not to be begun where the refusal stops it; it stays readable."""
    if card is None or card.refusal or card.step.method == PROVING or not is_stopped(card.step, job=job):
        return card
    return replace(card, refusal=refusal_title(refused))
