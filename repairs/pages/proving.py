"""What has to be looked at and played before a job may close."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.text import capfirst
from django.utils.translation import gettext

from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind, Part
from inventory.selectors.playing import voices_of
from repairs.rules.words import lower_first, place_words
from repairs.selectors.planning import JobState

MOST_LIMITS = 400  # characters of a play test's limits
MOST_NAMED = 3  # parts that a check names one by one


@dataclass(frozen=True, slots=True)
class Recheck:
    """A fault to look for once more, because of what was done. ``parts`` are (code, name) where it could be."""

    code: str
    fault: str
    fault_name: str
    place: str
    where: str
    after: str  # the method that asks for it
    parts: tuple[tuple[str, str], ...]
    test: str
    accept: str
    is_anywhere: bool = False  # then no line of its own for one part


def notes_of(state: JobState) -> list[str]:
    """Return the notes to play, as written, or what else sounds by itself."""
    return [note.written for note in state.standing.judgement.report.notes] or list(voices_of(state.standing))


def limits_of(state: JobState) -> str:
    """Return what remains limited, as sentences to begin with; as many as a play test's limits hold."""
    text = ""
    for limit in state.standing.judgement.limits:
        longer = f"{text} {limit}".strip()
        text = longer if len(longer) <= MOST_LIMITS else text
    return text


def rechecks(state: JobState) -> list[Recheck]:
    """Every fault that a method done in this job asks to look for again, once for each part or once for all."""
    trade, kind = catalog(), state.kind
    found: dict[str, Recheck] = {}
    for attempt in state.tries:
        method = trade.methods.get(attempt.method)
        if method is None or not attempt.outcome.is_success:
            continue
        for fault in method.recheck:
            at = [part for part in kind.parts if fault in trade.faults_at(part)]
            own = [part for part in at if part.code == attempt.part]
            if not at or fault not in trade.faults:
                continue
            one = _recheck(kind, fault=fault, at=own or at, worked_on=(attempt.part, attempt.place), after=method.name)
            found.setdefault(one.code, one)
    anywhere = {one.fault for one in found.values() if one.is_anywhere}
    return [one for one in found.values() if one.is_anywhere or one.fault not in anywhere]


def _recheck(kind: Kind, *, fault: str, at: list[Part], worked_on: tuple[str, str], after: str) -> Recheck:
    """``worked_on`` is the part and place of the work; a fault found elsewhere is looked for from there."""
    known = catalog().faults[fault]
    single = at[0] if len(at) == 1 else None
    place = worked_on[1] if single and single.code == worked_on[0] else ""
    if single:
        where = place_words(kind, part=single.code, place=place)
    elif worked_on[0]:
        where = gettext("Near the %(part)s") % {
            "part": lower_first(place_words(kind, part=worked_on[0], place=worked_on[1]))
        }
    elif len(at) <= MOST_NAMED:
        where = capfirst(", ".join(part.name for part in at))
    else:
        where = gettext("Anywhere on the instrument")
    return Recheck(
        code="-".join(word for word in (fault, single.code if single else worked_on[0], place) if word),
        fault=fault,
        fault_name=catalog().fault_name(fault),
        place=place,
        where=where,
        after=after,
        parts=tuple((part.code, part.name) for part in at),
        test=known.test,
        accept=known.accept,
        is_anywhere=single is None and not worked_on[0],
    )
