"""Physical counts: what a sighting means, how a difference may be settled, and when the next count is due."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from core.days import add_months


class Outcome(StrEnum):
    """What a count says of one instrument, or of a number that nobody knows."""

    FOUND = "found"
    OTHER_ROOM = "other_room"
    OTHER_SCHOOL = "other_school"
    FOUND_AGAIN = "found_again"  # the register had it as not found
    CONFIRMED = "confirmed"  # out by the record, and shown
    BY_RECORD = "by_record"  # out by the record, and not shown
    LEFT = "left"  # in storage when the count was opened, and properly out since
    GONE_HERE = "gone_here"  # the register had it as gone
    UNKNOWN = "unknown"
    NOT_FOUND = "not_found"
    STILL_MISSING = "still_missing"  # the register had it as not found, and nobody saw it


class Reason(StrEnum):
    """How a difference is settled."""

    MOVED_HERE = "moved_here"
    GOES_BACK = "goes_back"
    MISSING = "missing"
    SEEN_LATER = "seen_later"
    UNREADABLE = "unreadable"
    NOT_RECORDED = "not_recorded"
    ENTERED_TWICE = "entered_twice"
    GONE = "gone"
    BACK = "back"
    LOAN_TO_SETTLE = "loan_to_settle"
    RETURN_TO_SCHOOL = "return_to_school"
    TRANSFER = "transfer"
    CORRECT = "correct"
    TO_REGISTER = "to_register"
    NOT_OURS = "not_ours"
    MISREAD = "misread"


# The reasons that each difference may have, the likeliest first. What is not here is no difference.
REASONS: Mapping[Outcome, tuple[Reason, ...]] = {
    Outcome.NOT_FOUND: (
        Reason.MISSING,
        Reason.SEEN_LATER,
        Reason.UNREADABLE,
        Reason.NOT_RECORDED,
        Reason.ENTERED_TWICE,
        Reason.GONE,
    ),
    Outcome.OTHER_ROOM: (Reason.MOVED_HERE, Reason.GOES_BACK),
    Outcome.FOUND_AGAIN: (Reason.BACK, Reason.LOAN_TO_SETTLE),
    Outcome.OTHER_SCHOOL: (Reason.RETURN_TO_SCHOOL, Reason.TRANSFER),
    Outcome.GONE_HERE: (Reason.CORRECT, Reason.NOT_OURS),
    Outcome.UNKNOWN: (Reason.TO_REGISTER, Reason.NOT_OURS, Reason.MISREAD),
}
IN_STORE, NOT_FOUND, GONE = "in_store", "not_found", "gone"  # whereabouts that a count asks about; all else is out


def outcome_of(
    *, whereabouts: str, is_same_school: bool, register_room: int | None, seen_room: int | None, is_expected: bool
) -> Outcome:
    """Return what it means that an instrument was seen, by where the register has it.

    A room that nobody named, here or in the register, contradicts nothing of what was expected; what was not expected
    in these rooms, and has no room in the register, was found in another one.
    """
    if whereabouts == GONE:
        return Outcome.GONE_HERE
    if not is_same_school:
        return Outcome.OTHER_SCHOOL
    if whereabouts == NOT_FOUND:
        return Outcome.FOUND_AGAIN
    if whereabouts != IN_STORE:
        return Outcome.CONFIRMED
    if seen_room is None or register_room == seen_room or (register_room is None and is_expected):
        return Outcome.FOUND
    return Outcome.OTHER_ROOM


def outcome_unseen(*, expected_at: str, is_still_there: bool) -> Outcome:
    """Return what it means that an instrument of the count was not seen.

    ``expected_at``: its whereabouts when the count was opened. ``is_still_there``: it is in storage at the school yet.
    """
    if expected_at != IN_STORE:
        return Outcome.STILL_MISSING if expected_at == NOT_FOUND else Outcome.BY_RECORD
    return Outcome.NOT_FOUND if is_still_there else Outcome.LEFT


@dataclass(frozen=True, slots=True)
class Due:
    """When a school is to be counted; without a day it never was."""

    on: date | None
    is_overdue: bool
    is_near: bool


def next_count(*, last: date | None, months: int, notice_days: int, today: date) -> Due:
    """Return when the whole school is to be counted next, at the latest ``months`` after the last count.

    2 CFR 200.313(d)(2): equipment bought with federal money is counted, and reconciled with the records, at least once
    every two years.
    """
    if last is None:
        return Due(on=None, is_overdue=False, is_near=True)
    on = add_months(last, months)
    days = (on - today).days
    return Due(on=on, is_overdue=days < 0, is_near=0 <= days <= notice_days)
