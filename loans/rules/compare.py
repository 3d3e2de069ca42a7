"""What became of an instrument while it was away: the hand-out inspection beside the one at return."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from inventory.catalog.schema import Cause, Fault, Severity
from inventory.rules.facts import FindingFact


class Change(StrEnum):
    """How one fault at one place changed, the most telling first."""

    NEW = "new"
    WORSE = "worse"
    SAME = "same"
    BETTER = "better"
    GONE = "gone"  # not seen any more
    NOT_LOOKED_AT = "not_looked_at"  # nobody looked at that part at return


CHANGE_WORDS = {
    Change.NEW: "New",
    Change.WORSE: "Worse",
    Change.SAME: "Same",
    Change.BETTER: "Better",
    Change.GONE: "Gone",
    Change.NOT_LOOKED_AT: "Not looked at",
}
CAUSE_WORDS = {
    Cause.WEAR: "usually wear",
    Cause.DAMAGE: "usually damage",
    Cause.EITHER: "wear or damage",
}


@dataclass(frozen=True, slots=True)
class Compared:
    """One fault at one place, then and now. ``cause`` is set where something got worse or is new."""

    part: str
    place: str
    fault: str
    before: Severity | None
    after: Severity | None
    change: Change
    cause: Cause | None


def compare(
    *,
    before: Sequence[FindingFact],
    after: Sequence[FindingFact],
    faults: Mapping[str, Fault],
    walk: Sequence[str] = (),
    looked_at: Collection[str] | None = None,
) -> tuple[Compared, ...]:
    """Return every fault seen then or now, in the order of ``walk`` (part codes), one row for each part, place and fault.

    ``looked_at`` are the parts that somebody looked at when it came back; None means all of them. A fault that is not
    in the catalog any more has no cause.
    """
    then = {(fact.part, fact.place, fact.fault): fact for fact in before}
    now = {(fact.part, fact.place, fact.fault): fact for fact in after}
    order = {code: position for position, code in enumerate(walk)}
    rows = [
        _compared(
            key,
            then.get(key),
            now.get(key),
            faults=faults,
            is_looked_at=looked_at is None or key[0] in looked_at or key in now,
        )
        for key in then.keys() | now.keys()
    ]
    rank = tuple(Change)
    return tuple(
        sorted(
            rows,
            key=lambda row: (order.get(row.part, len(order)), row.part, rank.index(row.change), row.place, row.fault),
        )
    )


def _compared(
    key: tuple[str, str, str],
    then: FindingFact | None,
    now: FindingFact | None,
    *,
    faults: Mapping[str, Fault],
    is_looked_at: bool,
) -> Compared:
    part, place, fault = key
    change = _change(then.severity if then else None, now.severity if now else None, is_looked_at=is_looked_at)
    known = faults.get(fault)
    return Compared(
        part=part,
        place=place,
        fault=fault,
        before=then.severity if then else None,
        after=now.severity if now else None,
        change=change,
        cause=known.cause if known and change in {Change.NEW, Change.WORSE} else None,
    )


def _change(then: Severity | None, now: Severity | None, *, is_looked_at: bool) -> Change:
    if now is None:
        return Change.GONE if is_looked_at else Change.NOT_LOOKED_AT
    if then is None:
        return Change.NEW
    if now.rank == then.rank:
        return Change.SAME
    return Change.WORSE if now.rank > then.rank else Change.BETTER


def in_a_sentence(rows: Sequence[Compared]) -> str:
    """Say the comparison in one line: "2 new, 1 worse, 3 the same"; "As it was handed out." where nothing changed."""
    counts = {change: sum(1 for row in rows if row.change is change) for change in Change}
    changed = [change for change in Change if change is not Change.SAME and counts[change]]
    if not changed:
        return "As it was handed out."
    said = [f"{counts[change]} {_SAID[change]}" for change in Change if counts[change]]
    return f"{', '.join(said)}."


_SAID = {
    Change.NEW: "new",
    Change.WORSE: "worse",
    Change.SAME: "the same",
    Change.BETTER: "better",
    Change.GONE: "gone",
    Change.NOT_LOOKED_AT: "not looked at",
}


def accessories_short(handed: Mapping[str, int], back: Mapping[str, int]) -> dict[str, int]:
    """How many of each accessory did not come back; those that all did are left out."""
    return {code: count - back.get(code, 0) for code, count in handed.items() if back.get(code, 0) < count}
