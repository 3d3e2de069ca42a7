"""A decision that was refused, as those who asked or work on it read it: who, when, why."""

from __future__ import annotations

from django.utils.timezone import localdate
from django.utils.translation import gettext

from core.days import short_day
from core.money import dollars
from repairs.models import WorthDecision


def refusal_title(decision: WorthDecision) -> str:
    answer = str(decision.get_answer_display())
    if not decision.spends:
        return gettext("Not approved: %(answer)s") % {"answer": answer.lower()}
    words = gettext("Not approved: %(answer)s for up to %(amount)s")
    return words % {"answer": answer.lower(), "amount": dollars(decision.cost_p80_amount)}


def refusal_text(decision: WorthDecision) -> str:
    """Who refused it, when and why; and who had asked, with the reason given then."""
    settled_on, decided_on = localdate(decision.settled_at), localdate(decision.decided_at)
    refused = gettext("%(who)s on %(day)s: %(why)s.") % {
        "who": decision.settled_by, "day": short_day(settled_on), "why": decision.settled_note.rstrip("."),
    }  # fmt: skip
    question = gettext("Asked by %(who)s on %(day)s") % {"who": decision.decided_by, "day": short_day(decided_on)}
    because = decision.because.rstrip(".")
    return f"{refused} {question}: {because}." if because else f"{refused} {question}."


def refusal_words(decision: WorthDecision) -> str:
    """The same as one sentence, for what the refusal stops."""
    return f"{refusal_title(decision)}. {refusal_text(decision)}"
