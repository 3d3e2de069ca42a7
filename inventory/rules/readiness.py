"""May it go out? One pure rule over the facts; the only source of the answer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from core.days import full_day
from core.translation import gettext as _
from core.translation import gettext_noop, ngettext
from inventory.rules.facts import Owed
from inventory.rules.verdict import Verdict


class Readiness(StrEnum):
    MAY_GO_OUT = "may_go_out"
    WITH_LIMITS = "may_go_out_with_limits"
    STAYS_IN = "stays_in"


# Where it is asked whether it may go out: elsewhere, where it is says all there is to say.
AT_HAND = frozenset({"in_store", "on_bench"})
UNSAFE_OR_SILENT = frozenset({"does_not_play", "never_issue"})


class Clears(StrEnum):
    """The act that would clear a reason; pages turn it into a link."""

    INSPECT = "inspect"
    REPAIR = "repair"
    FINISH_JOB = "finish_job"
    PLAY_TEST = "play_test"
    TAKE_BACK = "take_back"
    FIND = "find"
    CLEAN = "clean"
    ANSWER_REPORT = "answer_report"
    COUNT_ACCESSORIES = "count_accessories"
    DECIDE = "decide"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Reason:
    code: str
    text: str
    clears: Clears
    stays_in: bool  # False: only a limit


@dataclass(frozen=True, slots=True)
class ReadinessFacts:
    """All that the answer hangs on. ``verdict`` and ``whereabouts`` are their stored words."""

    verdict: str
    whereabouts: str
    stopping: Sequence[str] = ()  # sentences of what stops it playing
    limits: Sequence[str] = ()  # sentences of what limits it
    never_issue: Sequence[str] = ()  # sentences of what must be repaired first, whatever it plays
    open_reports: int = 0
    missing_essentials: Sequence[str] = ()
    missing_extras: Sequence[str] = ()
    owed: AbstractSet[Owed] = frozenset()  # cleaning
    failed_play_test: str = ""  # what the latest play test said, if it failed
    is_parts_instrument: bool = False  # kept for its parts
    is_retired: bool = False  # by a decision
    is_back_from_shop: bool = False  # and nobody has played it since
    is_return_unseen: bool = False  # it came back from a loan, and nobody has inspected it since
    trusted_until: date | None = None  # the last day on which its list's word stands in for an inspection
    is_kind_known: bool = True  # False: the catalog has lost its kind, so nothing can be judged

    @property
    def is_trusted(self) -> bool:
        """Whether its list's word counts: only for the age of an inspection, and only until there is one."""
        return self.verdict == Verdict.NOT_INSPECTED and self.trusted_until is not None


@dataclass(frozen=True, slots=True)
class ReadinessAnswer:
    readiness: Readiness
    reasons: tuple[Reason, ...]


WHEREABOUTS = {
    "with_student": (gettext_noop("It is with a student."), Clears.TAKE_BACK),
    "on_bench": (gettext_noop("It is on the bench."), Clears.FINISH_JOB),
    "at_shop": (gettext_noop("It is at a shop."), Clears.FINISH_JOB),
    "not_found": (gettext_noop("Nobody knows where it is."), Clears.FIND),
    "gone": (gettext_noop("It has left the district."), Clears.NOTHING),
}
UNKNOWN_HISTORY = gettext_noop("Nobody knows its history: it is due a full cleaning.")


def readiness(facts: ReadinessFacts) -> ReadinessAnswer:
    """Return whether the instrument may go out, and every reason against it, most serious first."""
    against = (*_where_it_is(facts), *_how_it_plays(facts), *_what_is_due(facts))
    if against:
        answer = Readiness.STAYS_IN
    elif facts.verdict == Verdict.PLAYS_WITH_LIMITS:
        answer = Readiness.WITH_LIMITS
    else:
        answer = Readiness.MAY_GO_OUT
    return ReadinessAnswer(answer, (*against, *_worth_knowing(facts)))


def _where_it_is(facts: ReadinessFacts) -> Iterator[Reason]:
    if facts.whereabouts in WHEREABOUTS:
        text, clears = WHEREABOUTS[facts.whereabouts]
        yield Reason(facts.whereabouts, _(text), clears, stays_in=True)
    if facts.is_parts_instrument:
        yield Reason("parts_horn", _("It is kept for its parts."), Clears.NOTHING, stays_in=True)
    if facts.is_retired:
        yield Reason("retired", _("It is retired."), Clears.DECIDE, stays_in=True)
    if not facts.is_kind_known:
        words = _("Its kind is no longer in the catalog, so nothing can be judged.")
        yield Reason("unknown_kind", words, Clears.NOTHING, stays_in=True)
    if facts.is_back_from_shop:
        words = _("It came back from a shop and nobody has played it.")
        yield Reason("back_from_shop", words, Clears.PLAY_TEST, stays_in=True)


def _how_it_plays(facts: ReadinessFacts) -> Iterator[Reason]:
    failed = facts.failed_play_test
    if facts.is_return_unseen:
        words = _("It came back, and nobody has inspected it since.")
        yield Reason("return_inspection", words, Clears.INSPECT, stays_in=True)
    elif facts.verdict == Verdict.NOT_INSPECTED and not facts.is_trusted:
        yield Reason("not_inspected", _("Nobody has inspected it."), Clears.INSPECT, stays_in=True)
    if failed:
        yield Reason("play_test", _("It failed its play test: %(what)s.", what=failed), Clears.PLAY_TEST, stays_in=True)
    if facts.verdict == Verdict.DOES_NOT_PLAY or facts.is_trusted:  # trust covers no fault that somebody found
        unsaid = () if failed or facts.is_trusted else (_("It does not play."),)
        for sentence in facts.stopping or unsaid:
            yield Reason("does_not_play", sentence, Clears.REPAIR, stays_in=True)
    for sentence in facts.never_issue:
        yield Reason("never_issue", sentence, Clears.REPAIR, stays_in=True)


def _what_is_due(facts: ReadinessFacts) -> Iterator[Reason]:
    if Owed.HYGIENE in facts.owed:
        words = _("What goes into a mouth is not clean yet.")
        if Owed.FULL in facts.owed:
            words = f"{words} {_(UNKNOWN_HISTORY)}"
        yield Reason("hygiene", words, Clears.CLEAN, stays_in=True)
    if facts.missing_essentials:
        words = _("Missing: %(names)s.", names=", ".join(facts.missing_essentials))
        yield Reason("accessories", words, Clears.COUNT_ACCESSORIES, stays_in=True)
    if facts.open_reports:
        words = ngettext(
            "A problem was reported and not looked at.",
            "%(number)s problems were reported and not looked at.",
            facts.open_reports,
        )
        yield Reason("reports", words, Clears.ANSWER_REPORT, stays_in=True)


def _worth_knowing(facts: ReadinessFacts) -> Iterator[Reason]:
    """What keeps nothing in."""
    if facts.is_trusted and facts.trusted_until is not None:
        words = _("Taken on trust until %(day)s: nobody has inspected it.", day=full_day(facts.trusted_until))
        yield Reason("trusted", words, Clears.INSPECT, stays_in=False)
    if facts.verdict == Verdict.PLAYS_WITH_LIMITS:
        for sentence in facts.limits:
            yield Reason("limits", sentence, Clears.REPAIR, stays_in=False)
    if Owed.FULL in facts.owed and Owed.HYGIENE not in facts.owed:
        yield Reason("full_cleaning", _(UNKNOWN_HISTORY), Clears.CLEAN, stays_in=False)
    if facts.missing_extras:
        words = _("Without %(names)s.", names=", ".join(facts.missing_extras))
        yield Reason("extras", words, Clears.COUNT_ACCESSORIES, stays_in=False)


def is_unsafe_or_silent(reasons: Iterable[Mapping[str, Any]]) -> bool:
    """Whether a stored reason is what a page shows in red; whatever else keeps it in, waits."""
    return any(reason["code"] in UNSAFE_OR_SILENT for reason in reasons)


def ages_out_on(*, inspected_on: date | None, valid_days: int) -> date | None:
    """The last day on which an inspection still speaks for the instrument."""
    return None if inspected_on is None else inspected_on + timedelta(days=valid_days)


def aged_reason(*, ready_until: date | None, today: date, is_inspected: bool = True) -> Reason | None:
    """The reason that only the calendar brings: the last inspection is too old, or trust has run out without one."""
    if ready_until is None or today <= ready_until:
        return None
    if not is_inspected:
        return Reason(
            "trust_over", _("Nobody has inspected it; trust in its list is over."), Clears.INSPECT, stays_in=True
        )
    return Reason("aged", _("Its last inspection is too old."), Clears.INSPECT, stays_in=True)
