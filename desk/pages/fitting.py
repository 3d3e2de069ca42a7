"""Which students an instrument with limits suits, and which instruments suit a student."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext

from desk.selectors.fitting import Borrower
from inventory.catalog.load import catalog
from inventory.models import Instrument, Readiness
from inventory.rules.playing import LEVELS, LevelFit, PlayingReport, for_everybody, level_fits, level_name
from inventory.rules.standing import Standing
from inventory.rules.verdict import Verdict
from inventory.selectors.charts import unconfirmed_chart
from loans.models import Student

FIRST = "first_year"
SHOWN = 40  # students of a level named at once


def fit_at(reports: Mapping[str, PlayingReport], level: str) -> tuple[LevelFit | None, bool]:
    """What a level misses, and whether the kind lists a range for it; if not, the first-year range is used."""
    fits = {fit.level: fit for fit in level_fits(reports=reports)}
    if level in fits:
        return fits[level], True
    return fits.get(FIRST), False


def who_page(
    instrument: Instrument,
    *,
    standing: Standing,
    by_level: Mapping[str, Sequence[Borrower]],
    on_loan: Mapping[int, Sequence[tuple[str, str]]],
    play_limits: str,
    may_go: bool,
    whole: str = "",
) -> dict[str, Any]:
    """Group students by level: levels it suits first, and in a level those without such an instrument first.

    ``on_loan`` maps a student's key to (asset number, kind) of what they have out; ``whole`` is the level of which
    every student is named, not just the first.
    """
    plays = standing.judgement.verdict is not Verdict.DOES_NOT_PLAY
    reports = standing.reports if plays else {}  # limits say nothing of what does not play at all
    has_kind = {pk for pk, mine in on_loan.items() if any(kind == instrument.kind_code for _, kind in mine)}
    groups: list[dict[str, Any]] = []
    for level in sorted(by_level, key=lambda level: (LEVELS.index(level) if level in LEVELS else len(LEVELS), level)):
        fit, is_stated = fit_at(reports, level)
        everyone = sorted(by_level[level], key=lambda one: (one.pk in has_kind, one.pk in on_loan))
        shown = everyone if level == whole else everyone[:SHOWN]
        groups.append(
            {
                "name": level_name(level),
                "level": level,
                "fit": fit,
                "is_enough": fit is None or fit.is_enough,
                "is_stated": is_stated,  # the kind lists a range for this level; else the first-year range is used
                # The first SHOWN, or all where ``is_whole``.
                "players": tuple(_player(one, on_loan.get(one.pk, ()), has_kind=one.pk in has_kind) for one in shown),
                "is_whole": level == whole,
                "count": len(everyone),
                "waiting": sum(one.pk not in has_kind for one in everyone),  # have no instrument of this kind
            }
        )
    groups.sort(key=lambda group: (not group["is_enough"], group["fit"].hurts if group["fit"] else 0))
    return {
        "fits": level_fits(reports=reports),
        "groups": groups,
        "everybody": for_everybody(reports=reports),  # what affects every player
        "may_go": may_go,
        "plays": plays,
        "play_limits": play_limits if plays else "",  # of a play test: no chart says which level they affect
        "unconfirmed": unconfirmed_chart(standing.chart),  # chart code, or ""
    }


def _player(student: Borrower, mine: Sequence[tuple[str, str]], *, has_kind: bool) -> dict[str, Any]:
    """A student, with what they have on loan now: "TV-0012 Trumpet", and whether one is of the same kind."""
    has = tuple(f"{number} {catalog().kind(kind).name}" for number, kind in mine)
    return {"student": student, "has": has, "has_kind": has_kind}


def suit(instrument: Instrument, fit: LevelFit | None) -> dict[str, Any]:
    """An instrument that may go out, and what a student's level would miss on it."""
    hurts, is_limited = fit.hurts if fit else 0, instrument.readiness == Readiness.WITH_LIMITS
    if fit is not None and hurts:
        words = gettext("This student %(misses)s.") % {"misses": fit.words}
    elif not is_limited:
        words = gettext("No limits.")
    else:
        extra = f" {fit.refingered}." if fit is not None and fit.refingered else ""
        words = gettext("Its limits do not affect this student's notes.") + extra
    # Limits that do not affect the student come first: sound instruments are kept for those who need them.
    order = (2 if hurts else 0 if is_limited else 1, hurts, instrument.asset_number)
    return {"instrument": instrument, "hurts": hurts, "words": words, "order": order}


def suit_unasked(instrument: Instrument, reports: Mapping[str, PlayingReport]) -> dict[str, Any]:
    """An instrument that may go out to somebody whose level nobody asks, as a colleague's: sound ones come first."""
    is_limited = instrument.readiness == Readiness.WITH_LIMITS
    worst = max(level_fits(reports=reports), key=lambda fit: fit.hurts, default=None)
    words = gettext("It has limits.") if is_limited else gettext("No limits.")
    if worst is not None and worst.hurts:
        words = gettext("Anyone who plays its whole range %(misses)s.") % {"misses": worst.words}
    return {"instrument": instrument, "hurts": 0, "words": words, "order": (is_limited, instrument.asset_number)}


def suits_page(
    student: Student, *, ready: Sequence[Instrument], kind: str, standings: Mapping[int, Standing]
) -> dict[str, Any]:
    """The instruments ready at the student's school that are of one kind ("" for none yet).

    ``standings`` holds those of this kind, by key.
    """
    counts = Counter(row.kind_code for row in ready)
    names = {code: catalog().kind(code).name for code in counts}
    has_level = student.who == Student.Who.STUDENT  # a colleague or a group has neither grade nor level
    reports = ((row, standings[row.pk].reports) for row in ready if row.kind_code == kind)
    suits = sorted(
        (suit(row, fit_at(one, student.level)[0]) if has_level else suit_unasked(row, one) for row, one in reports),
        key=lambda one: one["order"],
    )
    return {
        "level": level_name(student.level) if has_level else "",
        "kinds": [
            (code, names[code], counts[code]) for code in sorted(counts, key=names.__getitem__)
        ],  # code, name, how many may go out
        "kind": kind,
        "kind_name": catalog().kind(kind).name if kind else "",
        "suits": [one for one in suits if not one["hurts"]],
        "hurting": [one for one in suits if one["hurts"]],  # on which the student would miss notes
        "unconfirmed": next((unconfirmed_chart(one.chart) for one in standings.values()), ""),
    }
