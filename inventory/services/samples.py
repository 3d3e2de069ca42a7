"""Drawing a sample, recording what was found at each instrument, and closing it. None of it changes the register.

An instrument that was examined has been seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import already, record_event
from core.exceptions import RefusedError
from core.models import User
from core.traces import as_left
from inventory.models import Sample, SampleItem, School, Strata, Tested
from inventory.rules.sample_frame import frame_hash, frame_text
from inventory.rules.sampling import BINOMIAL, HYPERGEOMETRIC, SamplePlan, SamplingError, draw_sample, plan_sample
from inventory.selectors.samples import Frame, frame_of, recorded_of
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument, refresh_state
from inventory.traces import PLANNED

MOST_ITEMS = 2000  # more than anybody examines by hand


@dataclass(frozen=True, slots=True)
class Plan:
    """What an auditor asks for. Rates are shares; ``cuts`` are those of value bands."""

    confidence: Decimal
    tolerable: Decimal
    expected: Decimal
    tested: tuple[str, ...]
    tested_words: str = ""
    is_binomial: bool = False
    strata: str = Strata.NONE
    cuts: tuple[Decimal, ...] = ()

    @property
    def distribution(self) -> str:
        """Strata are drawn in proportion and evaluated as one, which the binomial distribution does on the safe side."""
        return BINOMIAL if self.is_binomial or self.strata != Strata.NONE else HYPERGEOMETRIC


def planned(*, plan: Plan, frame: Frame) -> SamplePlan:
    """Return how many to examine; RefusedError where no sample of this fleet does."""
    population = frame.population
    if not population:
        raise RefusedError(gettext("There are no instruments to draw from."))
    try:
        found = plan_sample(
            confidence=plan.confidence,
            tolerable=plan.tolerable,
            expected=plan.expected,
            population=population if plan.distribution == HYPERGEOMETRIC else None,
        )
    except SamplingError as error:
        raise RefusedError(str(error)) from None
    if found.size > population:
        raise RefusedError(
            gettext(
                "This plan takes %(size)s instruments, and there are %(whole)s. Use the size of the fleet and no strata, "
                "accept a higher rate, or examine every one."
            )
            % {"size": f"{found.size:,}", "whole": f"{population:,}"}
        )
    if found.size > MOST_ITEMS:
        words = gettext("This plan takes %(size)s instruments. A sample has at most %(most)s.")
        raise RefusedError(words % {"size": f"{found.size:,}", "most": f"{MOST_ITEMS:,}"})
    return found


@service(once="nonce")
def draw(
    *, school: School | None, plan: Plan, seed: str, actor: User, at: datetime, nonce: UUID | None = None
) -> Sample:
    """Draw a sample from a school's fleet, or the district's, as it is now, and keep all it takes to draw it again."""
    if not plan.tested_words.strip() and not set(plan.tested) & set(Tested.values):
        raise RefusedError(gettext("Say what is tested."))
    frame = frame_of(school, strata=plan.strata, cuts=plan.cuts)
    found = planned(plan=plan, frame=frame)
    text = frame_text(frame.strata)
    sample = Sample.objects.create(
        school=school,
        confidence=plan.confidence,
        tolerable_rate=plan.tolerable,
        expected_rate=plan.expected,
        distribution=plan.distribution,
        tested=[one for one in Tested.values if one in plan.tested],
        tested_words=plan.tested_words.strip(),
        strata=plan.strata,
        cuts=[f"{cut:f}" for cut in plan.cuts] if plan.strata == Strata.VALUE else [],
        seed=seed,
        frame=text,
        frame_sha256=frame_hash(text),
        population=frame.population,
        size=found.size,
        allowed=found.allowed,
        drawn_at=at,
        drawn_by=actor,
    )
    drawn = draw_sample(seed=seed, size=found.size, strata=frame.strata)
    keys = {number: pk for numbers in frame.strata.values() for number, pk in numbers.items()}
    recorded = recorded_of(keys[one.number] for one in drawn)
    items = SampleItem.objects.bulk_create(
        SampleItem(
            sample=sample,
            instrument_id=keys[one.number],
            place=place,
            stratum=one.stratum,
            number=one.number,
            key=one.key,
            recorded=recorded[keys[one.number]],
        )
        for place, one in enumerate(drawn, start=1)
    )
    after = {"frame_sha256": sample.frame_sha256, "items": [item.pk for item in items], **as_left(sample, *PLANNED)}
    record_event(
        act="sample_drawn",
        subject=sample,
        tenant=school.pk if school else None,
        after=after,
        texts={"tested_words": (None, sample.tested_words)} if sample.tested_words else None,
    )
    return sample


@service
def examine(*, item: SampleItem, result: str, note: str, actor: User, at: datetime, seen: str | None = None) -> None:
    """Record what was found at an instrument of the sample; until the sample is closed it may be corrected.

    ``seen`` is the result that the page showed: refuses where somebody has recorded another one meanwhile.
    """
    if result not in SampleItem.Result.values:
        raise RefusedError(gettext("Choose what you found."))
    if result == SampleItem.Result.DEVIATES and not note.strip():
        raise RefusedError(gettext("Say what is not as recorded."))
    instrument = lock_instrument(item.instrument_id)
    _check_open(lock_row(item.sample))
    row = lock_row(item)
    if (row.result, row.note) == (result, note.strip()):
        return
    if seen is not None and row.result != seen:
        words = gettext("Somebody else has recorded this one. Nothing was changed; open it again to see what.")
        raise RefusedError(already(words, subject=row, acts=["sample_examined"]))
    before, noted = row.result, row.note
    row.result, row.note = result, note.strip()
    row.examined_at, row.examined_by = at, actor
    row.save(update_fields=["result", "note", "examined_at", "examined_by"])
    log_event(
        instrument=instrument,
        act="sample_examined",
        subject=row,
        before={"result": before} if before else None,
        after={"result": result, "sample": row.sample_id},
        texts={"note": (noted, row.note)} if noted or row.note else None,
    )
    refresh_state(instrument=instrument, actor=actor, at=at)


@service
def finish(*, sample: Sample, actor: User, at: datetime) -> None:
    """Close a sample of which every instrument was examined. What was found can no longer be changed."""
    row = lock_row(sample)
    _check_open(row)
    left = SampleItem.objects.filter(sample=row).left().count()
    if left:
        words = gettext("%(count)s instruments are still to be examined. Mark what cannot be found as not found.")
        raise RefusedError(words % {"count": left})
    _close(row, act="sample_finished", actor=actor, at=at)


@service
def stop(*, sample: Sample, because: str, actor: User, at: datetime) -> None:
    """Close a sample that is not finished; it says nothing about the fleet."""
    if because not in Sample.Stopped.values:
        raise RefusedError(gettext("Choose why it is stopped."))
    row = lock_row(sample)
    _check_open(row)
    row.stopped_because = because
    _close(row, act="sample_stopped", actor=actor, at=at)


def _close(row: Sample, *, act: str, actor: User, at: datetime) -> None:
    row.closed_at, row.closed_by = at, actor
    row.save(update_fields=["closed_at", "closed_by", "stopped_because"])
    deviating = SampleItem.objects.filter(sample=row).deviating().count()
    after = {"deviations": deviating, "because": row.stopped_because}
    record_event(act=act, subject=row, tenant=row.school_id, after=after)


def _check_open(sample: Sample) -> None:
    if not sample.is_open:
        raise RefusedError(gettext("This sample is closed. Nothing in it can be changed."))
