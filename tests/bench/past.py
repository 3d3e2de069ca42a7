"""Five years of a large district: inspections, loans, jobs, custody, and the log of them."""

from __future__ import annotations

import random
import uuid
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.utils import timezone

from core.events import NewEvent, record_events
from core.models import User
from core.revisions import kept_of
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import (
    Custody,
    Finding,
    Inspection,
    Instrument,
    PartLook,
    PlayTest,
    ProblemReport,
    Whereabouts,
)
from loans.models import Loan
from repairs.models import Attempt, Job
from repairs.rules.facts import Outcome
from repairs.rules.plan import Plan, PlannedStep, plan_work
from tests.bench.rows import Big, Draft, insert
from tests.simulation.drawing import draw_inspection, full_bench

LOOKED_AT_IN_FULL = 0.5  # of the inspections keep a row for each part that was fine
YEAR = 365  # days
OUT, BACK = 500, 320  # days ago, of the last loan that is over; one of each year before it as well
LENT = 0.7  # of the instruments in a year that is over
REPAIRED_AT = 250  # days ago, in one year or another


@dataclass(frozen=True, slots=True)
class PastEvent:
    at: datetime
    event: NewEvent
    actor: str


def logged(draft: Draft, act: str, at: datetime, actor: str, **after: Any) -> PastEvent:
    row = draft.row
    return PastEvent(at, NewEvent(act=act, subject=row, thread=row.thread, tenant=row.school_id, after=after), actor)


def registered(draft: Draft) -> PastEvent:
    """As it was entered, before what was corrected since."""
    row = draft.row
    beginning = kept_of(Instrument).beginning(row)
    after = {name: value for name, value in (beginning["after"] | draft.began_as).items() if value is not None}
    event = NewEvent("registered", row, row.thread, after["school"], after=after, texts=beginning["texts"])
    return PastEvent(row.registered_at, event, "director")


def corrected(draft: Draft) -> PastEvent:
    values = kept_of(Instrument).values_of(draft.row)
    now = {name: values.get(name) for name in draft.began_as}
    at = draft.row.registered_at + timedelta(days=200)
    row = draft.row
    event = NewEvent("corrected", row, row.thread, row.school_id, before=draft.began_as, after=now)
    return PastEvent(at, event, "director")


def years_since(draft: Draft, *, now: datetime, days: int) -> int:
    """Return how many times a year has passed since it was registered, the last one ``days`` ago."""
    return max(((now - draft.row.registered_at).days - days) // YEAR + 1, 0)


def history(big: Big, drafts: Sequence[Draft], *, generator: random.Random) -> Iterator[PastEvent]:
    """Yield what everybody did over five years, and insert the rows it left: inspections, loans, jobs, custody."""
    yield from inspect(big, drafts)
    yield from lend(big, drafts, generator=generator)
    yield from repair(big, drafts, generator=generator)
    for draft in drafts:
        began = draft.row.registered_at
        yield registered(draft)
        yield logged(draft, "tag_issued", began, "director")
        if draft.began_as:
            yield corrected(draft)
        if draft.left_at:
            yield logged(draft, "moved", draft.left_at, "director", whereabouts="gone", reference="disposal")


def inspect(big: Big, drafts: Sequence[Draft]) -> Iterator[PastEvent]:
    """One walk on arrival, one in each year, and one lately, with the findings that stand."""
    walks = insert(walk for draft in drafts for walk in walks_of(draft, now=big.now, tech=big.people["tech"]))
    latest = [walk for walk in walks if walk.finished_at > big.now - timedelta(days=YEAR)]
    insert(
        Finding(
            inspection=walk, instrument=walk.instrument, part=fact.part, place=fact.place, fault=fact.fault,
            severity=fact.severity.value, note="seen at the window", found_at=walk.finished_at,
        )
        for draft, walk in zip(drafts, latest, strict=True)
        for fact in draft.pattern.findings
    )  # fmt: skip
    keep_looks(drafts, latest)
    of = {draft.row.pk: draft for draft in drafts}
    for walk in walks:
        draft, is_latest = of[walk.instrument_id], walk.finished_at > big.now - timedelta(days=YEAR)
        count = len(draft.pattern.findings) if is_latest else 0
        yield logged(draft, "inspected", walk.finished_at, "tech", purpose=walk.purpose, findings=count)
    insert(
        ProblemReport(instrument=draft.row, said_at=big.now - timedelta(days=2), text="A key hangs.")
        for draft in drafts
        if draft.is_reported
    )


def walks_of(draft: Draft, *, now: datetime, tech: User) -> Iterator[Inspection]:
    lately = draft.pattern.inspected_at
    since = years_since(draft, now=now, days=(now - lately).days)
    yearly = [("yearly", lately - timedelta(days=YEAR * back)) for back in range(since)]
    for purpose, at in (("intake", draft.row.registered_at + timedelta(hours=2)), *reversed(yearly)):
        yield Inspection(
            instrument=draft.row, purpose=purpose, actor=tech, started_at=at, finished_at=at, is_safe=True,
            verdict="plays",
        )  # fmt: skip


def keep_looks(drafts: Sequence[Draft], walks: Sequence[Inspection]) -> None:
    """The parts that were fine."""
    rows = []
    for number, (draft, walk) in enumerate(zip(drafts, walks, strict=True)):
        if number % round(1 / LOOKED_AT_IN_FULL):
            continue
        faulty = {fact.part for fact in draft.pattern.findings}
        looked = {part.code for part in draft.row.parts} - faulty
        rows.extend(PartLook(inspection=walk, part=part, looked_at=walk.finished_at) for part in sorted(looked))
    insert(rows)


def lend(big: Big, drafts: Sequence[Draft], *, generator: random.Random) -> Iterator[PastEvent]:
    director = big.people["director"]
    place = defaultdict(int)
    loans, of = [], []
    for draft in drafts:
        row = draft.row
        since = years_since(draft, now=big.now, days=OUT)
        spans = [
            (OUT + YEAR * back, BACK + YEAR * back) for back in reversed(range(since)) if generator.random() < LENT
        ]
        if row.whereabouts == Whereabouts.WITH_STUDENT:
            spans.append((15, 0))
        for out, back in spans:
            students = big.students[row.school_id]
            student = students[place[row.school_id] % len(students)]
            place[row.school_id] += 1
            lent_at = big.now - timedelta(days=out)
            due = (lent_at + timedelta(days=generator.choice((10, 150, 200)))).date()
            loans.append(
                Loan(
                    instrument=row,
                    school_id=row.school_id,
                    student=student,
                    lent_at=lent_at,
                    lent_on=timezone.localdate(lent_at),
                    due_on=due,
                    returned_at=lent_at + timedelta(days=out - back) if back else None,
                    actor=director,
                    returned_to=director if back else None,
                    nonce=uuid.UUID(int=generator.getrandbits(128)),
                    replacement_amount=Decimal(900),
                )
            )
            of.append(draft)
    for draft, loan in zip(of, insert(loans), strict=True):
        yield logged(draft, "lent", loan.lent_at, "director", student=loan.student_id)
        yield logged(draft, "moved", loan.lent_at, "director", whereabouts="with_student", reference=f"loan:{loan.pk}")
        if loan.returned_at:
            yield logged(draft, "returned", loan.returned_at, "director")
            yield logged(draft, "moved", loan.returned_at, "director", whereabouts="in_store")


def repair(big: Big, drafts: Sequence[Draft], *, generator: random.Random) -> Iterator[PastEvent]:
    """Jobs closed by a play test, with what was tried, and jobs open now."""
    tech, plans = big.people["tech"], {}
    closed = [draft for draft in drafts if draft.was_repaired]
    ats = []
    for draft in closed:
        since = max(years_since(draft, now=big.now, days=REPAIRED_AT), 1)
        ats.append(big.now - timedelta(days=REPAIRED_AT + YEAR * generator.randrange(since)))
    tests = insert(
        PlayTest(instrument=draft.row, played_at=at + timedelta(hours=3), actor=tech, result="pass")
        for draft, at in zip(closed, ats, strict=True)
    )
    done = insert(
        Job(
            instrument=draft.row, bench=big.benches[draft.row.school_id], opened_at=at, opened_by=tech,
            closed_at=test.played_at, closed_by=tech, play_test=test,
        )
        for draft, at, test in zip(closed, ats, tests, strict=True)
    )  # fmt: skip
    attempts = []
    for draft, at, job in zip(closed, ats, done, strict=True):
        plan = plans.get(draft.row.kind_code) or plans.setdefault(
            draft.row.kind_code, a_plan(draft.pattern.kind, generator=generator)
        )
        attempts.extend(tried(step, job=job, at=at, tech=tech, generator=generator) for step in plan.steps[:4])
        yield logged(draft, "job_opened", at, "tech")
        yield logged(draft, "play_tested", job.closed_at, "tech", result="pass", failed_notes=[])
        yield logged(draft, "job_closed", job.closed_at, "tech")
    insert(attempts)
    now_on = [draft for draft in drafts if draft.row.whereabouts == Whereabouts.ON_BENCH]
    opened = insert(
        Job(
            instrument=draft.row, bench=big.benches[draft.row.school_id], opened_by=tech,
            opened_at=big.now - timedelta(days=3), due_on=timezone.localdate(big.now) + timedelta(days=generator.randrange(30)),
        )
        for draft in now_on
    )  # fmt: skip
    for draft, job in zip(now_on, opened, strict=True):
        yield logged(draft, "job_opened", job.opened_at, "tech")
        yield logged(draft, "moved", job.opened_at, "tech", whereabouts="on_bench", reference=f"job:{job.pk}")


def tried(step: PlannedStep, *, job: Job, at: datetime, tech: User, generator: random.Random) -> Attempt:
    low, likely, high = (float(minutes) for minutes in (step.minutes.low, step.minutes.likely, step.minutes.high))
    return Attempt(
        job=job, nonce=uuid.UUID(int=generator.getrandbits(128)), step_key=step.key, method=step.method, rung=step.rung,
        part=step.part, place=step.place, ended_at=at + timedelta(hours=2), actor=tech,
        outcome=generator.choice((Outcome.FREED, Outcome.STILL_STUCK)) if step.rung else Outcome.DONE,
        minutes=Decimal(str(round(generator.triangular(low, high, likely), 1))),
    )  # fmt: skip


def a_plan(kind: Kind, *, generator: random.Random) -> Plan:
    findings = draw_inspection(kind, catalog=catalog(), generator=generator)
    return plan_work(kind=kind, catalog=catalog(), findings=findings, bench=full_bench(catalog()))


def hang_on(big: Big, drafts: Sequence[Draft], *, events: Sequence[PastEvent], generator: random.Random) -> None:
    """Custody as the moves were told: one open span each, the earlier ones closed."""
    moves: dict[int, list[tuple[datetime, str, str]]] = defaultdict(list)
    for one in events:
        if one.event.act == "moved":
            after = one.event.after or {}
            moves[one.event.subject.pk].append((one.at, after["whereabouts"], after.get("reference", "")))
    spans = []
    for draft in drafts:
        row = draft.row
        steps = [(row.registered_at, str(Whereabouts.IN_STORE), ""), *sorted(moves[row.pk])]
        for number, (at, where, reference) in enumerate(steps):
            until = steps[number + 1][0] if number + 1 < len(steps) else None
            spans.append(Custody(instrument=row, whereabouts=where, since=at, until=until, reference=reference))
    insert(spans)


def log_event(big: Big, events: list[PastEvent], *, total: int, generator: random.Random) -> None:
    """Write the log in the order of its moments, filled up with counts of accessories to the number wanted."""
    subjects = [one for one in events if one.event.act == "registered"]
    for number in range(total - len(events)):
        one = subjects[number % len(subjects)].event
        at = big.now - timedelta(days=generator.randrange(5, 390), minutes=generator.randrange(600))
        count = NewEvent(
            act="accessories_counted",
            subject=one.subject,
            thread=one.thread,
            tenant=one.tenant,
            after={"counts": {"case": 1}},
        )
        events.append(PastEvent(at, count, "tech"))
    events.sort(key=lambda one: one.at)
    days: dict[tuple[datetime, str], list[NewEvent]] = defaultdict(list)
    for one in events:
        day = one.at.replace(hour=15, minute=0, second=0, microsecond=0)
        days[day, one.actor].append(one.event)
    for (at, actor), some in days.items():
        record_events(actor=big.people[actor], at=at, events=some)
