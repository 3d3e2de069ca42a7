"""What an outcome changed, in a sentence or two for the tech."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from repairs.rules.facts import Outcome
from repairs.rules.plan import Plan, RungState, Savings
from repairs.rules.words import duration

KNOWN = "This was noted already. Nothing was added twice."
DOLLAR = Decimal(1)


def saved_words(saved: Savings) -> str:
    """Return "saves 1 h 20 min and $34" of what the dropped rungs would have taken on average."""
    amount = saved.amount.quantize(DOLLAR, rounding=ROUND_HALF_UP)
    pieces = [duration(saved.minutes)] if saved.minutes >= 0.5 else []
    pieces += [f"${amount:,}"] if amount > 0 else []
    return f"saves {' and '.join(pieces)}" if pieces else ""


def next_rung_words(plan: Plan, *, ladder_key: str) -> str:
    """Say what the ladder of a part offers now: the next rung, a shop, or nothing."""
    ladder = next((one for one in plan.ladders if one.key == ladder_key), None)
    if ladder is not None:
        rung = next((one for one in ladder.rungs if one.state is RungState.NEXT), None)
        if rung is not None:
            return f"Next rung: {lower_first(rung.say)}."
    return "No rung is left at this bench: it goes to a shop."


def lower_first(text: str) -> str:
    """Return the text as it stands inside a sentence; an abbreviation keeps its capitals."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def outcome_words(outcome: Outcome, *, plan: Plan, ladder_key: str, saved: Savings | None, damage: str = "") -> str:
    """Return what an outcome changed. ``plan`` is the one after it; ``damage`` names what was entered as damaged."""
    match outcome:
        case Outcome.FREED:
            words = saved_words(saved) if saved is not None and saved.is_any else ""
            said = f"Freed early: {words}." if words else "Freed."
        case Outcome.STILL_STUCK:
            return f"Still stuck. {next_rung_words(plan, ladder_key=ladder_key)}"
        case Outcome.DONE:
            said = "Done."
        case Outcome.NOT_RIGHT:
            said = "Noted: not right yet. The plan looks for another way."
        case Outcome.STOPPED:
            said = "Stopped there, as it should be. What the bench cannot go on with is sent out."
        case Outcome.DAMAGED:
            said = f"Noted. {damage} joins the plan." if damage else "Noted as damaged."
        case Outcome.SKIPPED:
            said = "Left out."
    return f"{said} {left_words(plan)}"


def left_words(plan: Plan) -> str:
    """Say how much hands-on time is left, as likely as not."""
    rest = [step for step in plan.steps if step.method != "play_test"]
    if not rest:
        return "Only the play test is left." if plan.steps else "Nothing is left to do."
    return f"About {duration(plan.attended_minutes.p50)} left, {len(rest)} step{'' if len(rest) == 1 else 's'}."
