"""A year of band: repairs, loans, returns with a year's wear, loans again."""

from __future__ import annotations

import io
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import UUID

from PIL import Image, ImageDraw

from core.models import User
from core.queue import LAST
from desk.demo.fleet import add_random_finding
from desk.demo.stage import Stage
from inventory.catalog.schema import Family
from inventory.exceptions import RefusedError
from inventory.models import Instrument, Purpose, Readiness, School, Verdict, Whereabouts
from inventory.rules.facts import Owed
from inventory.services.care import answer_report, confirm_report, record_cleaning, record_play_test, report_problem
from inventory.services.inspecting import (
    answer_safety,
    carry_over_inspection,
    count_accessories,
    finish_inspection,
    start_inspection,
)
from loans.models import Loan, Student
from loans.services.agreements import sign_agreement
from loans.services.lending import lend_instrument
from loans.services.returning import return_loan
from loans.tasks import make_paper
from repairs.models import Bench, Job
from repairs.rules.facts import Outcome
from repairs.rules.plan import SHOP_TRIP, PlannedStep
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import acknowledge_cautions, do_step, give_up_job, open_job, prove_job

SUMMER_JOBS = 24
LOANS = {"ALDER": 40, "QUARRY": 28, "MILL": 9, "TVHS": 34}
PERCUSSION = {"bass_drum_concert", "xylophone", "marimba", "vibraphone", "chimes", "timpani_set", "cymbals", "drum_set"}


def reloaded(instrument: Instrument) -> Instrument:
    return Instrument.objects.get(pk=instrument.pk)


def bench_of(stage: Stage, school: School) -> Bench:
    code = {"QUARRY": "quarry-bench", "TVHS": "high-bench"}.get(school.code, "alder-bench")
    return stage.benches[code]


def in_store(stage: Stage) -> list[Instrument]:
    """Return the instruments of the fleet in storage, as they are now and in the order they were registered."""
    rows = Instrument.objects.filter(pk__in=[row.pk for row in stage.fleet], whereabouts=Whereabouts.IN_STORE)
    return list(rows.select_related("school").order_by("pk"))


def waiting_for_repair(stage: Stage) -> list[Instrument]:
    return [row for row in in_store(stage) if row.verdict in {Verdict.DOES_NOT_PLAY, Verdict.PLAYS_WITH_LIMITS}]


def repair_instruments(stage: Stage, *, days: int, most: int) -> None:
    """Repair instruments that do not play, then ones with limits, two a day."""
    tech = stage.people["tech"]
    waiting = waiting_for_repair(stage)
    waiting.sort(key=lambda row: (row.verdict != Verdict.DOES_NOT_PLAY, row.asset_number))
    for number, instrument in enumerate(waiting[:most]):
        bench = bench_of(stage, instrument.school)
        job = open_job(instrument=instrument, bench=bench, actor=tech, at=stage.moment(days + number // 2))
        work_on_job(stage, job, days=days + number // 2)


def work_on_job(stage: Stage, job: Job, *, days: int, most_steps: int = 40, finish: bool = True) -> Job:
    """Do step after step with random outcomes, then close the job."""
    rng, tech = stage.rng, stage.people["tech"]
    at = stage.at(days, 15, 30)
    for _ in range(most_steps):
        plan = plan_for_job(Job.objects.select_related("instrument__school", "bench").get(pk=job.pk))
        step = next((one for one in plan.steps if one.method != "play_test" and not one.waits_on), None)
        if step is None:
            break
        if step.acknowledgements:
            acknowledge_cautions(job=job, step_key=step.key, actor=tech, at=at)
        took = Decimal(str(round(rng.triangular(step.minutes.low, step.minutes.high, step.minutes.likely), 1)))
        at += timedelta(minutes=float(took), hours=float(step.wait_h))
        do_step(
            job=job, step_key=step.key, outcome=outcome_of(stage, step), minutes=took, actor=tech, at=at,
            nonce=stage.nonce(),
        )  # fmt: skip
    return close_job(stage, job, plays=not plan.send_out) if finish else job


def outcome_of(stage: Stage, step: PlannedStep) -> str:
    if step.method == SHOP_TRIP:
        return Outcome.SKIPPED  # no order is written for this job: the shop's work waits for funds
    if step.odds is None:
        return Outcome.DONE
    return Outcome.FREED if stage.rng.random() < step.odds.mean else Outcome.STILL_STUCK


def close_job(stage: Stage, job: Job, *, plays: bool) -> Job:
    """Play-test it if nothing is left for a shop, otherwise end the job with the reason."""
    tech = stage.people["tech"]
    at = (job.attempts.order_by("-ended_at").values_list("ended_at", flat=True).first() or job.opened_at) + timedelta(
        hours=1
    )
    if not plays:
        return give_up_job(
            job=job, because="The rest is work for an outside shop; waiting for funds.", actor=tech, at=at
        )
    try:
        return prove_job(
            job=job, result="pass", actor=tech, at=at, tester_plays="trumpet", room_celsius=Decimal("21.0")
        )
    except RefusedError:
        return give_up_job(job=job, because="Left until summer.", actor=tech, at=at)


def lend_instruments(stage: Stage, *, days: int, due_days: int, late: int = 0) -> None:
    """Lend instruments to students; ``late`` of the loans are overdue today."""
    taken: set[int] = set(Loan.objects.open().values_list("student_id", flat=True))
    made: list[int] = []
    stored = in_store(stage)
    for code, most in LOANS.items():
        ready = [
            row
            for row in stored
            if row.school.code == code and row.readiness != Readiness.STAYS_IN and row.kind_code not in PERCUSSION
        ]
        stage.rng.shuffle(ready)
        students = [student for student in stage.students[code] if student.pk not in taken]
        for instrument, student in zip(ready[: stage.some(most)], students, strict=False):
            is_late = len(made) % 11 == 5 and len(made) // 11 < late
            due = stage.today + timedelta(days=-stage.rng.randint(3, 20) if is_late else due_days)
            if _lend(stage, instrument, student, days=days + len(made) // 20, due=due):
                made.append(instrument.pk)


def hand_out(instrument: Instrument, student: Student, *, due: date, actor: User, at: datetime, nonce: UUID) -> Loan:
    """Lend an instrument as it was last inspected, with what belongs to it."""
    inspection = carry_over_inspection(instrument=instrument, purpose=Purpose.HAND_OUT, actor=actor, at=at, finish=True)
    counts = {
        row.code: row.expected if row.present is None else min(row.present, row.expected)
        for row in instrument.accessories.all()
    }
    reason = "The limits do not affect this student's notes." if instrument.readiness == Readiness.WITH_LIMITS else ""
    return lend_instrument(
        instrument=instrument, student=student, due_on=due, accessories=counts, hand_out=inspection,
        limits_reason=reason, actor=actor, at=at, nonce=nonce,
    )  # fmt: skip


def _lend(stage: Stage, instrument: Instrument, student: Student, *, days: int, due: date) -> bool:
    actor, at = stage.director_of(instrument.school), stage.moment(days)
    try:
        loan = hand_out(instrument, student, due=due, actor=actor, at=at, nonce=stage.nonce())
    except RefusedError:
        return False
    agreement = sign_agreement(
        loan=loan, signed="screen", student_signature=random_signature(stage), guardian_signature=random_signature(stage),
        guardian_signer=student.guardian_name, actor=actor, at=at + timedelta(minutes=1),
    )  # fmt: skip
    make_paper.using(priority=LAST).enqueue(agreement=agreement.pk)
    return True


def random_signature(stage: Stage) -> bytes:
    """Return a made-up signature as PNG."""
    picture = Image.new("RGB", (320, 110), "white")
    points = [(20 + 20 * step, 55 + stage.rng.randint(-32, 32)) for step in range(15)]
    ImageDraw.Draw(picture).line(points, fill="black", width=4, joint="curve")
    data = io.BytesIO()
    picture.save(data, "PNG", optimize=True)
    return data.getvalue()


def return_all_loans(stage: Stage, *, days: int) -> None:
    """Return everything at the end of the year, some of it worse."""
    loans = Loan.objects.open().select_related("instrument__school", "hand_out").order_by("pk")
    for number, loan in enumerate(loans):
        actor, at = stage.director_of(loan.instrument.school), stage.moment(days + number // 25)
        draft = start_inspection(
            instrument=loan.instrument, purpose=Purpose.RETURN, actor=actor, at=at, compared_with=loan.hand_out
        )
        draft = carry_over_inspection(instrument=loan.instrument, purpose=Purpose.RETURN, actor=actor, at=at)
        if stage.rng.random() < 0.3:
            add_random_finding(stage, draft, loan.instrument)
        answer_safety(inspection=draft, is_safe=True, actor=actor, at=at)
        back = finish_inspection(inspection=draft, actor=actor, at=at)
        out = {row["code"]: int(row["count"]) for row in loan.accessories}
        return_loan(loan=loan, taken_back=back, accessories_back=out, actor=actor, at=at + timedelta(minutes=2))
        if stage.rng.random() < 0.93:
            record_cleaning(
                instrument=loan.instrument, done=[Owed.HYGIENE], actor=stage.people["tech"], at=at + timedelta(days=2)
            )


def play_test_instruments(stage: Stage, *, days: int) -> None:
    """Play-test a few instruments in spring, one of them with limits."""
    ready = [row for row in in_store(stage) if row.verdict == Verdict.PLAYS]
    for number, instrument in enumerate(ready[:8]):
        at, tech = stage.moment(days), stage.people["tech"]
        if number == 3:
            record_play_test(
                instrument=instrument, result="limits", limits_text="Top third of the range is weak.", actor=tech, at=at
            )
        else:
            record_play_test(instrument=instrument, result="pass", actor=tech, at=at, room_celsius=Decimal(21))


def add_reports(stage: Stage) -> None:
    """Report three problems: one is a notice, one was confirmed and keeps its instrument in, one was answered."""
    out = [row for row in map(reloaded, stage.fleet) if row.whereabouts == Whereabouts.WITH_STUDENT]
    words = (
        (Family.BRASS, "The second valve sticks when it is cold."),
        (Family.WOODWIND, "One key came loose and I have the screw."),
        (Family.PERCUSSION, "It smells like the case."),
    )
    for number, (family, text) in enumerate(words):
        instrument = next((row for row in out if row.kind.family is family), None)
        if instrument is None:
            continue
        report = report_problem(instrument=instrument, text=text, at=stage.at(-number - 1, 16, 20))
        if number == 1:
            confirm_report(report=report, actor=stage.director_of(instrument.school), at=stage.at(-1, 8))
        if number == 2:
            answer_report(
                report=report,
                actor=stage.director_of(instrument.school),
                at=stage.at(-2, 8),
                answer="Case lining cleaned.",
            )


def count_short_accessories(stage: Stage) -> None:
    """Count a few instruments' accessories and find one short each."""
    for instrument in in_store(stage)[:40:13]:
        if rows := list(instrument.accessories.all()):
            count_accessories(
                instrument=instrument, counts={rows[-1].code: 0}, actor=stage.people["tech"], at=stage.at(-4, 11)
            )
