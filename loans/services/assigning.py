"""Assignments: proposed, changed by hand, solved again around what is fixed, locked or dropped."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from core.traces import as_left
from inventory.models import Instrument, School
from loans.exceptions import AssignmentRefusedError
from loans.models import Assignment, AssignmentLine
from loans.rules.assigning import Proposal, Wanted, Weights, assign
from loans.rules.assigning.facts import Reason
from loans.selectors.assigning import lines_of, locked_assignment, offers_of, weights_now, wishes_of
from loans.selectors.seats import Demand

SEED_BITS = 62
COLUMNS = ("state", "seed", "revision", "excluded", "locked_at", "locked_by_id")


@service(once="nonce")
def propose_assignment(
    *, school: School, actor: User | None, at: datetime, seed: int | None = None, nonce: UUID | None = None
) -> Assignment:
    """Propose an instrument for each student who needs one and has none. ``seed`` None: lots are drawn again."""
    assignment = Assignment.objects.create(
        school=school,
        made_at=at,
        actor=actor,
        seed=secrets.randbits(SEED_BITS) if seed is None else seed,
        weights=weights_now(),
    )
    _solve(assignment, at=at)
    if not assignment.lines.exists():
        raise AssignmentRefusedError(
            _("Nobody at this school needs an instrument: say first who plays what in the classes.")
        )
    after = {**_rows(assignment.lines.order_by("pk")), "weights": assignment.weights, **as_left(assignment, *COLUMNS)}
    record_event(act="assignment_proposed", subject=assignment, tenant=school.pk, after=after)
    return assignment


@service
def solve_again(*, assignment: Assignment, seen: int, actor: User, at: datetime) -> Assignment:
    """Solve around the fixed lines and without what is excluded; new wishes come in, settled ones are noted."""
    fresh = _lock_open(assignment, seen)
    before = set(fresh.lines.values_list("pk", flat=True))
    _solve(fresh, at=at)
    new = fresh.lines.exclude(pk__in=before).order_by("pk")
    _changed(fresh, "solved", **_rows(new), given=_given(fresh))
    return fresh


@service
def give_instrument(
    *, line: AssignmentLine, instrument: Instrument | None, seen: int, actor: User, at: datetime
) -> Assignment:
    """Give a line an instrument (None: nothing) and fix it. Whoever was to get it gets this line's in return."""
    fresh = _lock_open(line.assignment, seen)
    row = fresh.lines.select_related("student").get(pk=line.pk)
    if instrument is not None and instrument.school_id != fresh.school_id:
        raise AssignmentRefusedError(_("That instrument belongs to another school."))
    other = fresh.lines.filter(instrument=instrument).exclude(pk=row.pk).first() if instrument else None
    if other is not None and row.instrument_id and other.kind_code != row.kind_code:
        raise AssignmentRefusedError(_("That instrument is planned for a student who plays another kind."))
    back = row.instrument
    AssignmentLine.objects.filter(pk__in=[one.pk for one in (row, other) if one]).update(instrument=None)
    _set(row, instrument, at=at)
    if other is not None:
        _set(other, back, at=at)
    _changed(fresh, "given", lines=[one.facts for one in (row, other) if one])
    return fresh


@service
def fix_line(*, line: AssignmentLine, is_fixed: bool, seen: int, actor: User, at: datetime) -> Assignment:
    """Hold a line as it is while the rest is solved again, or let it go."""
    fresh = _lock_open(line.assignment, seen)
    row = fresh.lines.get(pk=line.pk)
    if row.is_fixed != is_fixed:
        row.is_fixed = is_fixed
        row.save(update_fields=["is_fixed"])
        _changed(fresh, "fixed" if is_fixed else "let_go", lines=[row.facts])
    return fresh


@service
def exclude_instrument(
    *, assignment: Assignment, instrument: Instrument, is_excluded: bool, seen: int, actor: User, at: datetime
) -> Assignment:
    """Leave an instrument out of the assignment, or let it in again. Whoever was to get it gets nothing until it is solved."""
    fresh = _lock_open(assignment, seen)
    if instrument.school_id != fresh.school_id:
        raise AssignmentRefusedError(_("That instrument belongs to another school."))
    keys = set(fresh.excluded) - {instrument.pk} | ({instrument.pk} if is_excluded else set())
    if keys == set(fresh.excluded):
        return fresh
    fresh.excluded = sorted(keys)
    if is_excluded:
        for row in fresh.lines.filter(instrument=instrument):
            row.instrument, row.is_fixed, row.why = None, False, _stored([Reason("excluded")])
            row.save(update_fields=["instrument", "is_fixed", "why"])
    _changed(fresh, "excluded" if is_excluded else "let_in", instrument=instrument.pk)
    return fresh


@service
def lock_assignment(
    *, assignment: Assignment, seen: int, replaces: int | None, actor: User, at: datetime
) -> Assignment:
    """Lock the assignment: from now on it says whose each instrument is. The one locked before is dropped.

    ``replaces`` is the key of the one that was locked when the page was shown; another one meanwhile refuses the act.
    """
    fresh = _lock_open(assignment, seen)
    before = locked_assignment(fresh.school)
    if (before.pk if before else None) != replaces:
        raise AssignmentRefusedError(
            _("Somebody else has locked an assignment in the meantime. Look at that one first.")
        )
    if before is not None:
        _end(lock_row(before), Assignment.State.DROPPED, act="assignment_dropped")
    fresh.locked_at, fresh.locked_by = at, actor
    _end(fresh, Assignment.State.LOCKED, act="assignment_locked", given=_given(fresh))
    return fresh


@service
def drop_assignment(*, assignment: Assignment, actor: User, at: datetime) -> None:
    """Give an assignment up, proposed or locked. What was lent by it stays lent."""
    fresh = lock_row(assignment)
    if fresh.state != Assignment.State.DROPPED:
        _end(fresh, Assignment.State.DROPPED, act="assignment_dropped")


@service
def note_list_printed(*, assignment: Assignment, actor: User, at: datetime) -> None:
    """Record that the hand-out list, which names students, was taken out of the program."""
    record_event(act="hand_out_list_printed", subject=assignment, tenant=assignment.school_id)


def _lock_open(assignment: Assignment, seen: int) -> Assignment:
    fresh = lock_row(assignment)
    if not fresh.is_open:
        raise AssignmentRefusedError(_("This assignment is no longer open: it was locked or dropped."))
    if fresh.revision != seen:
        raise AssignmentRefusedError(_("Somebody else has changed this assignment in the meantime. Look at it again."))
    return fresh


def _changed(assignment: Assignment, what: str, **more: Any) -> None:
    assignment.revision += 1
    assignment.save(update_fields=["revision", "excluded"])
    after = {"what": what, **more, **as_left(assignment, *COLUMNS)}
    record_event(act="assignment_changed", subject=assignment, tenant=assignment.school_id, after=after)


def _end(assignment: Assignment, state: str, *, act: str, **more: Any) -> None:
    assignment.state = state
    assignment.save(update_fields=["state", "locked_at", "locked_by"])
    after = {**more, **as_left(assignment, *COLUMNS)}
    record_event(act=act, subject=assignment, tenant=assignment.school_id, after=after)


def _rows(lines: Iterable[AssignmentLine]) -> dict[str, Any]:
    rows = list(lines)
    return {"rows": [row.pk for row in rows], "lines": [row.facts for row in rows]}


def _given(assignment: Assignment) -> dict[str, int | None]:
    return {str(pk): given for pk, given in assignment.lines.order_by("pk").values_list("pk", "instrument_id")}


def _solve(assignment: Assignment, *, at: datetime) -> None:
    """Solve and write the lines: those that are there, and one for each new wish."""
    today = timezone.localdate(at)
    wishes = wishes_of(assignment.school, today=today)
    lines = {line.key: line for line in lines_of(assignment)}
    fixed = {key: line.instrument_id for key, line in lines.items() if line.is_fixed}
    kinds = {wanted.kind for _, wanted in wishes}
    held = [key for key in fixed.values() if key is not None]
    offers = offers_of(assignment.school, kinds, today=today, also=held)
    wanted_keys = {wanted.key for _, wanted in wishes}
    gone = {key: line for key, line in lines.items() if key not in wanted_keys}
    proposal = assign(
        [wanted for _, wanted in wishes],
        [offer for _, offer in offers.values()],
        weights=Weights(**assignment.weights),
        seed=assignment.seed,
        fixed={key: given for key, given in fixed.items() if key in wanted_keys},
        excluded=frozenset(assignment.excluded),
    )
    _write(assignment, lines, wishes, proposal, gone=gone)


def _write(
    assignment: Assignment,
    lines: Mapping[str, AssignmentLine],
    wishes: Iterable[tuple[Demand, Wanted]],
    proposal: Proposal,
    *,
    gone: Mapping[str, AssignmentLine],
) -> None:
    """Write the proposal into the lines. First everything is taken back, so that nothing is given twice meanwhile."""
    assignment.lines.update(instrument=None)
    for row in gone.values():
        row.instrument, row.is_fixed, row.why = None, False, _stored([Reason("no_longer")])
    solved = {line.wanted.key: line for line in proposal.lines}
    new = []
    for demand, wanted in wishes:
        line = solved[wanted.key]
        row = lines.get(wanted.key) or AssignmentLine(
            assignment=assignment, student_id=demand.student, kind_code=demand.kind
        )
        row.size, row.level, row.period_id = demand.size, demand.level, demand.period
        row.instrument_id, row.why = (line.offer.key if line.offer else None), _stored(line.why)
        if wanted.key not in lines:
            new.append(row)
    AssignmentLine.objects.bulk_update(
        [*lines.values()], ["size", "level", "period", "instrument", "is_fixed", "why"], batch_size=500
    )
    AssignmentLine.objects.bulk_create(new, batch_size=500)


def _stored(why: Iterable[Reason]) -> list[dict[str, Any]]:
    return [asdict(reason) for reason in why]


def _set(row: AssignmentLine, instrument: Instrument | None, *, at: datetime) -> None:
    """Give by hand: fixed, with what the rules say against it."""
    row.instrument, row.is_fixed = instrument, True
    row.why = _stored(_why_by_hand(row, instrument, at=at))
    row.save(update_fields=["instrument", "is_fixed", "why"])


def _why_by_hand(row: AssignmentLine, instrument: Instrument | None, *, at: datetime) -> tuple[Reason, ...]:
    if instrument is None:
        return (Reason("fixed_none"),)
    today, school = timezone.localdate(at), row.assignment.school
    wanted = next((one for _, one in wishes_of(school, today=today) if one.key == row.key), None)
    known = offers_of(school, {row.kind_code}, today=today, also=[instrument.pk])
    if wanted is None or instrument.pk not in known:
        return (Reason("fixed"),)
    offer, weights = known[instrument.pk][1], Weights(**row.assignment.weights)
    (line,) = assign([wanted], [offer], weights=weights, seed=0, fixed={wanted.key: offer.key}).lines
    return line.why
