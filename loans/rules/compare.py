"""What changed while an instrument was out: the inspection at hand-out against the one at return."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from inventory.catalog.schema import Cause, Fault, Severity
from inventory.rules.facts import FindingFact


class Change(StrEnum):
    """How one fault at one place changed, most important first."""

    NEW = "new"
    WORSE = "worse"
    SAME = "same"
    BETTER = "better"
    GONE = "gone"  # no longer seen
    NOT_LOOKED_AT = "not_looked_at"  # that part was not checked at return


@dataclass(frozen=True, slots=True)
class Compared:
    """One fault at one place, then and now. ``cause`` is set only if it is new or worse."""

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
    """Return every fault seen then or now, in the order of ``walk`` (part codes): a row for each part, place and fault.

    ``looked_at`` are the parts checked at return; None means all of them. A fault no longer in the catalog has no
    cause.
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


def accessories_short(handed: Mapping[str, int], back: Mapping[str, int]) -> dict[str, int]:
    """Return how many of each accessory did not come back, without those that all came back."""
    return {code: count - back.get(code, 0) for code, count in handed.items() if back.get(code, 0) < count}
