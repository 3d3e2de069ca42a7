"""Where an instrument is and what state it is in: the one gate, and the one place that writes the answer."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from core.models import User
from inventory.catalog.load import catalog
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Custody, Instrument, PlayTest, ProblemReport, Whereabouts
from inventory.rules.readiness import (
    Readiness,
    ReadinessAnswer,
    ReadinessFacts,
    Reason,
    aged_reason,
    ages_out_on,
    readiness,
)
from inventory.rules.verdict import Judgement, Verdict
from inventory.selectors.judging import judgement_of
from inventory.services.event_log import log_event


@dataclass(frozen=True, slots=True)
class State:
    """What the stored columns must say, computed from the facts."""

    judgement: Judgement
    verdict: str
    limits: tuple[str, ...]
    answer: ReadinessAnswer
    ready_until: date | None
    inspected_at: datetime | None

    def columns(self) -> dict[str, Any]:
        return {
            "verdict": self.verdict,
            "limits": list(self.limits),
            "readiness": self.answer.readiness.value,
            "readiness_reasons": [
                {"code": reason.code, "text": reason.text, "clears": reason.clears.value, "stays_in": reason.stays_in}
                for reason in self.answer.reasons
            ],
            "ready_until": self.ready_until,
            "inspected_at": self.inspected_at,
        }


def state_of(instrument: Instrument) -> State:
    """Compute verdict and readiness afresh from the rows that hold the facts; writes nothing."""
    last = instrument.inspections.finished().order_by("-finished_at", "-pk").first()
    judgement = judgement_of(instrument, inspected=last is not None)
    latest = PlayTest.objects.filter(instrument=instrument).first()
    verdict, limits, failed = judgement.verdict, list(judgement.limits), ""
    if latest is not None and verdict != Verdict.NOT_INSPECTED:
        if latest.result == PlayTest.Result.FAIL:
            failed = ", ".join(latest.failed_notes) or latest.note[:120] or "see the test"
            verdict = Verdict.DOES_NOT_PLAY
        elif latest.result == PlayTest.Result.LIMITS:
            limits.append(latest.limits_text)
            verdict = Verdict.PLAYS_WITH_LIMITS if verdict == Verdict.PLAYS else verdict
    short = [row for row in instrument.accessories.all() if row.is_short]
    facts = ReadinessFacts(
        verdict=verdict,
        whereabouts=instrument.whereabouts,
        stopping=[effect.sentence for effect in judgement.effects if effect.group == "stops"]
        or list(judgement.reasons),
        limits=limits,
        open_reports=ProblemReport.objects.filter(instrument=instrument).unanswered().count(),
        missing_essentials=[row.name for row in short if row.is_essential],
        missing_extras=[row.name for row in short if not row.is_essential],
        is_hygiene_due=instrument.is_hygiene_due,
        failed_play_test=failed,
        is_parts_horn=instrument.is_parts_horn,
        is_back_from_shop=_is_back_from_shop(instrument, latest),
    )
    inspected_at = last.finished_at if last else None
    return State(
        judgement=judgement,
        verdict=verdict.value,
        limits=tuple(limits),
        answer=readiness(facts),
        ready_until=ages_out_on(
            inspected_on=timezone.localdate(inspected_at) if inspected_at else None,
            valid_days=int(catalog().settings["inspection_valid_days"]),
        ),
        inspected_at=inspected_at,
    )


def _is_back_from_shop(instrument: Instrument, latest: PlayTest | None) -> bool:
    """Whether the last stay at a shop ended after the latest play test."""
    back_at = (
        Custody.objects.filter(instrument=instrument, whereabouts=Whereabouts.AT_SHOP, until__isnull=False)
        .order_by("-until")
        .values_list("until", flat=True)
        .first()
    )
    return back_at is not None and (latest is None or latest.played_at < back_at)


def reasons_today(instrument: Instrument, *, today: date) -> list[dict[str, Any]]:
    """The stored reasons, and the one that only the calendar brings."""
    reasons = list(instrument.readiness_reasons)
    aged: Reason | None = aged_reason(ready_until=instrument.ready_until, today=today)
    if aged:
        reasons.insert(0, asdict(aged))
    return reasons


def may_go_out(instrument: Instrument, *, today: date) -> bool:
    """Whether it may go out today, with limits or without."""
    return instrument.readiness != Readiness.STAYS_IN and (
        instrument.ready_until is None or today <= instrument.ready_until
    )


@transaction.atomic
def refresh_state(*, instrument: Instrument, actor: User | None, at: datetime) -> State:
    """Recompute and store verdict and readiness; called by every service that changes a fact, in its transaction.

    Writes an event only when the verdict or the readiness changed. The passed instance is not touched.
    """
    fresh = Instrument.objects.get(pk=instrument.pk)
    state = state_of(fresh)
    columns = state.columns()
    before = {"verdict": fresh.verdict, "readiness": fresh.readiness}
    after = {"verdict": columns["verdict"], "readiness": columns["readiness"]}
    Instrument.objects.filter(pk=fresh.pk).update(**columns)
    if before != after:
        log_event(
            instrument=fresh,
            act="judged",
            actor=actor,
            at=at,
            before=before,
            after=after,
        )
    return state


@transaction.atomic
def keep_for_parts(*, instrument: Instrument, is_parts_horn: bool, actor: User | None, at: datetime) -> None:
    """Take it off what may go out, or put it back among it; refuses when somebody else was faster."""
    changed = Instrument.objects.filter(pk=instrument.pk, is_parts_horn=not is_parts_horn).update(
        is_parts_horn=is_parts_horn
    )
    if not changed:
        words = "is" if is_parts_horn else "is not"
        raise InstrumentUnavailableError(
            f"{instrument.asset_number} {words} a parts horn already. Nothing was changed."
        )
    refresh_state(instrument=instrument, actor=actor, at=at)


@transaction.atomic
def move_instrument(
    *, instrument: Instrument, expected: str, to: str, actor: User | None, at: datetime, reference: str = ""
) -> None:
    """Set the whereabouts, unless somebody else has changed them first.

    The conditional update and the partial unique constraint on the open custody span hold on SQLite and
    PostgreSQL alike. Raises InstrumentUnavailableError and writes nothing.
    """
    moved = Instrument.objects.filter(pk=instrument.pk, whereabouts=expected).update(whereabouts=to)
    if not moved:
        label = Whereabouts(expected).label.lower()
        raise InstrumentUnavailableError(
            f"{instrument.asset_number} is not {label} any more. Somebody else was faster; nothing was changed."
        )
    Custody.objects.filter(instrument=instrument, until=None).update(until=at)
    try:
        with transaction.atomic():
            Custody.objects.create(instrument=instrument, whereabouts=to, since=at, reference=reference, actor=actor)
    except IntegrityError:
        raise InstrumentUnavailableError(
            f"{instrument.asset_number} was moved by somebody else at the same moment. Nothing was changed."
        ) from None
    log_event(
        instrument=instrument,
        act="moved",
        actor=actor,
        at=at,
        before={"whereabouts": expected},
        after={"whereabouts": to, "reference": reference},
    )
    refresh_state(instrument=instrument, actor=actor, at=at)
