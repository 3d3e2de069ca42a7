"""What somebody asked to have approved, as their first page tells it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.days import short_day
from repairs.models import WorthDecision
from repairs.selectors.refusals import refusal_text, refusal_title


def own_lines(decisions: Iterable[WorthDecision]) -> list[dict[str, Any]]:
    """Return a line for each: refused with the reason, approved, or still waiting. Its page has the way on."""
    return [
        {
            "decision": one,
            "instrument": one.instrument,
            "url": reverse("repairs:worth", args=[one.instrument.asset_number]),
            "is_answered": not one.is_waiting,
            **_answer_lines(one),
        }
        for one in decisions
    ]


def _answer_lines(decision: WorthDecision) -> dict[str, str]:
    answer = str(decision.get_answer_display())
    if decision.is_waiting:
        day = short_day(timezone.localdate(decision.decided_at))
        words = gettext("since %(day)s: %(because)s") % {"day": day, "because": decision.approval_because}
        return {"title": gettext("Waiting for approval: %(answer)s") % {"answer": answer.lower()}, "text": words}
    if decision.is_refused:
        return {"title": refusal_title(decision), "text": refusal_text(decision), "tone": "v-silent"}
    words = gettext("by %(who)s on %(day)s") % {
        "who": decision.settled_by, "day": short_day(timezone.localdate(decision.settled_at)),
    }  # fmt: skip
    title = gettext("Approved: %(answer)s") % {"answer": answer.lower()}
    action = gettext("Go on") if decision.spends else ""
    return {"title": title, "text": words, "tone": "v-plays", "action": action}
