"""Who waits for which instrument: each waiting student counts once, however many of the kind are on the bench."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

Group = tuple[int, str]  # school and kind


@dataclass(frozen=True, slots=True)
class Candidate:
    """An instrument on the bench that a waiting student could get."""

    key: str
    group: Group
    minutes: float  # attended, to go


@dataclass(frozen=True, slots=True)
class Share:
    """How many of the waiting students count for one instrument, and out of how many."""

    students: int
    waiting: int  # at its school, for its kind
    ready: int  # instruments of that kind that could go out today


NOBODY = Share(students=0, waiting=0, ready=0)


def share_students(
    candidates: Iterable[Candidate], *, waiting: Mapping[Group, int], ready: Mapping[Group, int]
) -> dict[str, Share]:
    """Return by key how many waiting students count for each instrument.

    Students who could have an instrument from storage today do not wait for the bench. The others are dealt out one by
    one, the instrument with the least work first, then round again: three students and five trumpets make three urgent
    trumpets and two that can wait; only with more students than instruments does one stand for several.
    """
    groups: dict[Group, list[Candidate]] = defaultdict(list)
    for candidate in candidates:
        groups[candidate.group].append(candidate)
    shares: dict[str, Share] = {}
    for group, members in groups.items():
        wait, stand = waiting.get(group, 0), ready.get(group, 0)
        rounds, rest = divmod(max(wait - stand, 0), len(members))
        for place, one in enumerate(sorted(members, key=lambda one: (one.minutes, one.key))):
            shares[one.key] = Share(students=rounds + (place < rest), waiting=wait, ready=stand)
    return shares
