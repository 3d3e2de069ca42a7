"""Who waits for which horn: every waiting student counts once, however many horns of the kind lie on the bench."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

Group = tuple[int, str]  # school and kind


@dataclass(frozen=True, slots=True)
class Candidate:
    """A horn on the bench that could end somebody's waiting."""

    key: str
    group: Group
    minutes: float  # attended, to go


@dataclass(frozen=True, slots=True)
class Share:
    """How many of the students who wait are put on one horn, and out of what."""

    students: int
    waiting: int  # at its school, for its kind
    ready: int  # horns of that kind which could go out today


NOBODY = Share(students=0, waiting=0, ready=0)


def share_students(
    candidates: Iterable[Candidate], *, waiting: Mapping[Group, int], ready: Mapping[Group, int]
) -> dict[str, Share]:
    """Return by key how many students each horn is to be weighed with.

    Those whom a horn in store could serve today do not wait for the bench. The others are dealt out one by one, the
    horn with the least work first and round again: a horn takes one student, so that three students and five trumpets
    make three urgent trumpets and two that can wait; only where students are more than horns does one stand for several.
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
