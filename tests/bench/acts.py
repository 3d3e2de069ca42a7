"""How many SQL statements an act takes, savepoints and begin and end of the transaction among them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from functools import partial

from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from desk.services.lending import lend_at_desk, take_back_at_desk
from inventory.models import Inspection, Instrument, Purpose
from inventory.services.inspecting import (
    answer_safety,
    finish_inspection,
    look_at_part,
    look_at_rest,
    record_findings,
    start_inspection,
)
from inventory.services.inspecting.drafts import take_tap
from loans.models import Loan
from loans.services import Signing
from repairs.services.jobs import acknowledge_cautions, do_step
from tests.bench.figures import Figure
from tests.factories import NOW, TODAY, make_ready_instrument, make_school, make_student, make_user, new_nonce
from tests.loans.makers import all_back, all_counts, ink
from tests.repairs.makers import LATER, make_job, next_step

# Lending keeps what was agreed: the district, the findings and how many photos are three statements of it, the guardian two.
LEND, TAKE_BACK, FINISH, STEP, TAP = 49, 45, 35, 30, 12


def counted(what: str, act: Callable[[], object], *, most: int) -> Figure:
    with CaptureQueriesContext(connection) as seen:
        act()
    return Figure(what, queries=len(seen.captured_queries), most_queries=most)


def section(_run: object) -> Iterator[Figure]:
    """Do each act on rows of its own, and undo it."""
    with transaction.atomic():
        yield from act_figures()
        transaction.set_rollback(True)


def act_figures() -> Iterator[Figure]:
    """Do each act on rows of its own; the caller undoes them."""
    school = make_school(code="ACTS", name="School of the acts")
    actor = make_user("director", school=school)
    instrument = make_ready_instrument(school=school)
    yield counted("lend, the last inspection carried over", lambda: _lend(instrument, actor), most=LEND)
    loan = Loan.objects.get(instrument=instrument)
    yield counted(
        "take back, as it went out",
        lambda: take_back_at_desk(
            loan=loan, accessories_back=all_back(loan),
            actor=actor, at=NOW + timedelta(days=90),
        ),
        most=TAKE_BACK,
    )  # fmt: skip
    yield from _walk(make_ready_instrument(school=school), actor)
    yield from _bench(make_job(school=school))


def _lend(instrument: Instrument, actor: object) -> None:
    student = make_student(school=instrument.school)
    lend_at_desk(
        instrument=instrument, student=student, due_on=TODAY + timedelta(days=30), accessories=all_counts(instrument),
        signing=Signing(
            signed="screen", student_signature=ink(), guardian_signature=ink(), guardian_signer="Gale Guardian"
        ),
        actor=actor, at=NOW, nonce=new_nonce(),
    )  # fmt: skip


def _walk(instrument: Instrument, actor: object) -> Iterator[Figure]:
    walk = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=actor, at=NOW)
    answer_safety(inspection=walk, is_safe=True, actor=actor, at=NOW)

    def tap(act: Callable[..., object], **said: object) -> Callable[[], object]:
        fresh = Inspection.objects.get(pk=walk.pk)
        return lambda: take_tap(
            inspection=fresh, key=new_nonce(), actor=actor, at=NOW,
            act=lambda: act(inspection=fresh, actor=actor, at=NOW, **said),
        )  # fmt: skip

    found = {"fault": "slide_seized", "severity": "severe", "places": [""]}
    yield counted("one tap: a part is fine", tap(look_at_part, part="bell"), most=TAP)
    yield counted("one tap: a finding", tap(record_findings, part="third_valve_slide", **found), most=TAP)
    look_at_rest(inspection=walk, actor=actor, at=NOW)
    yield counted("finish a walk with a finding", tap(finish_inspection), most=FINISH)


def _bench(job: object) -> Iterator[Figure]:
    for words in ("a way that did not free it", "the next step"):
        step = next_step(job)
        acknowledge_cautions(job=job, step_key=step.key, actor=job.opened_by, at=LATER)
        outcome = {True: "still_stuck", False: "done"}[bool(step.rung)]
        yield counted(
            f"a bench step: {words}",
            partial(
                do_step, job=job, step_key=step.key, outcome=outcome, actor=job.opened_by, at=LATER, nonce=new_nonce()
            ),
            most=STEP,
        )
