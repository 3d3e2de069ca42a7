"""What the printed bench sheet says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext

from core.templatetags.look import money_to
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.pages.drawing import FoundLine, found_lines, marks_of
from inventory.rules.picture.shapes import Mark
from inventory.rules.playing import NoteResult
from inventory.selectors.charts import is_unconfirmed
from inventory.selectors.labels import tag_address
from repairs.pages.job import AwayLine, left_lines, part_uses, sent_lines
from repairs.rules.plan import PlannedStep, RungState
from repairs.rules.quantities import use_words
from repairs.rules.words import days_span, duration, finding_words, place_words, waiting
from repairs.selectors.planning import JobState

SHOWN_RUNGS = 3


@dataclass(frozen=True, slots=True)
class SheetStep:
    say: str
    where: str
    minutes: str
    wait: str
    parts: str
    hazards: str
    after: str  # the ways behind it: "then hot water 15%, 5 min; …"


@dataclass(frozen=True, slots=True)
class Sheet:
    asset_number: str
    kind: Kind
    school: str
    maker: str
    verdict: str
    bench: str
    opened_by: str
    printed_on: date
    due_on: date | None
    because: str
    findings: tuple[FoundLine, ...]
    steps: tuple[SheetStep, ...]
    done: int
    tools: tuple[str, ...]
    cautions: tuple[tuple[str, str], ...]
    sent_out: tuple[str, ...]
    left: tuple[str, ...]
    time_p50: str
    time_p80: str
    cost_p50: Decimal
    cost_p80: Decimal
    days: str
    tag_url: str  # upper case, for the code; "" without a live tag
    marks: Mapping[str, Mark]
    notes: tuple[NoteResult, ...] = ()  # of the first year
    clef: str = "treble"
    is_unconfirmed: bool = False  # the notes come from fingerings that the district has not confirmed
    at_once: tuple[str, ...] = ()  # the math of all at once against one by one


def sheet_of(state: JobState, *, home: str, today: date) -> Sheet:
    """Gather the sheet of a job. ``home`` is the address of this server, for the tag's code."""
    trade, job, plan = catalog(), state.job, state.plan
    instrument = job.instrument
    stands, kind = state.standing, state.kind
    hazards = dict.fromkeys(hazard for step in plan.steps for hazard in step.cautions)
    return Sheet(
        asset_number=instrument.asset_number,
        kind=kind,
        school=instrument.school.name,
        maker=" ".join(word for word in (instrument.maker, instrument.model, instrument.serial) if word),
        verdict=instrument.get_verdict_display(),
        bench=job.bench.name,
        opened_by=str(job.opened_by),
        printed_on=today,
        due_on=job.due_on,
        because=job.because,
        findings=found_lines(
            stands,
            kind,
            [
                (row.fact, finding_words(trade, stands.whole_kind, row.fact))
                for row in state.findings
                if row.closed_at is None
            ],
        ),
        steps=tuple(_step(state, step) for step in plan.steps),
        done=len(plan.done),
        tools=tuple(trade.tools[code].name for code in plan.tools if code in trade.tools),
        cautions=tuple((one.name, one.caution) for one in hazards),
        sent_out=tuple(_sent(one) for one in sent_lines(plan, stands)),
        at_once=tuple(one.sentence for one in plan.at_once),
        left=tuple(f"{one.finding}: {one.why}" for one in left_lines(plan, stands)),
        time_p50=duration(plan.taken.attended_minutes.p50),
        time_p80=duration(plan.taken.attended_minutes.p80),
        cost_p50=Decimal(str(round(plan.taken.cost.p50))),
        cost_p80=Decimal(str(round(plan.taken.cost.p80))),
        days=days_span(max(round(plan.taken.elapsed_days.p50), 1), max(round(plan.taken.elapsed_days.p80), 1)),
        tag_url=tag_address(instrument.pk, home=home),
        marks=marks_of(stands),
        notes=stands.judgement.report.notes,
        clef=stands.clef,
        is_unconfirmed=is_unconfirmed(stands.chart),
    )


def _sent(one: AwayLine) -> str:
    if one.is_shared:
        return gettext("%(finding)s: in the same work") % {"finding": one.finding}
    fee = f", {money_to(one.fee_low, one.fee_high)}" if one.fee_high else ""
    return f"{one.finding}: {one.say.lower()}{fee} ({one.why})"


def _step(state: JobState, step: PlannedStep) -> SheetStep:
    behind = [rung for rung in step.next_rungs if rung.state is not RungState.REFUSED]
    shown = "; ".join(f"{rung.entry.name} ({rung.p * 100:.0f}%)" for rung in behind[:SHOWN_RUNGS])
    more = gettext("; and %(count)d more") % {"count": len(behind) - SHOWN_RUNGS} if len(behind) > SHOWN_RUNGS else ""
    return SheetStep(
        say=step.say,
        where=place_words(state.kind, part=step.part, place=step.place) if step.part else "",
        minutes=gettext("%(low)s to %(high)s")
        % {"low": duration(step.minutes.low), "high": duration(step.minutes.high)}
        if step.minutes.high
        else gettext("nothing extra"),
        wait=waiting(float(step.wait_h)) if step.wait_h else "",
        parts=", ".join(use_words(use.quantity, unit=use.unit, name=use.name) for use in part_uses(step.parts)),
        hazards=", ".join(hazard.name.lower() for hazard in step.cautions),
        after=f"{shown}{more}",
    )
