"""Reads for lending and taking back: which inspection counts, what else could go out, what limits mean."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils import timezone

from inventory.models import Finding, Inspection, Instrument, InstrumentQuerySet, Purpose, Readiness, Whereabouts
from inventory.rules.facts import FindingFact
from inventory.rules.playing import LEVELS, level_name
from inventory.selectors.standing import standing_of
from loans.models import Loan
from loans.selectors.seats import size_of
from loans.selectors.sharing import without_shared


def walked_today(instrument: Instrument, *, today: date) -> Inspection | None:
    """The hand-out inspection finished today, unless another one was finished since."""
    last = instrument.inspections.finished().order_by("-finished_at", "-pk").first()
    if last is None or last.purpose != Purpose.HAND_OUT or last.finished_at is None:
        return None
    return last if timezone.localdate(last.finished_at) == today else None


def draft_of(instrument: Instrument, *, purpose: str) -> Inspection | None:
    return instrument.inspections.drafts().filter(purpose=purpose).first()


def going_out_with(instrument: Instrument, *, draft: Inspection | None) -> tuple[FindingFact, ...]:
    """The findings it would go out with now: those of a hand-out inspection under way, or else those still open."""
    return (draft.findings.all() if draft else Finding.objects.filter(instrument=instrument).standing()).facts()


def walk_since(loan: Loan) -> Inspection | None:
    """The newest finished return inspection since it went out."""
    return (
        Inspection.objects.finished()
        .filter(instrument_id=loan.instrument_id, purpose=Purpose.RETURN, finished_at__gte=loan.lent_at)
        .order_by("-finished_at", "-pk")
        .first()
    )


def may_be_lent(*, today: date) -> InstrumentQuerySet:
    """What may go out from storage today and does not stay in the room because it is shared."""
    return without_shared(Instrument.objects.ready(today=today).filter(whereabouts=Whereabouts.IN_STORE))


def others_ready(instrument: Instrument, *, today: date) -> list[Instrument]:
    """Up to three instruments of the same kind and school that may go out instead, without limits first."""
    rows = may_be_lent(today=today).filter(school=instrument.school, kind_code=instrument.kind_code)
    return list(rows.exclude(pk=instrument.pk).order_by("readiness", "asset_number")[:3])


def spares_for(loan: Loan, *, today: date) -> list[Instrument]:
    """Return what may go out in place of what is lent: first what that stands in for, then its size, then no limits."""
    mine, stood_in = loan.instrument, loan.in_place_of.instrument_id if loan.in_place_of else None
    rows = may_be_lent(today=today).filter(school=loan.school_id, kind_code=mine.kind_code)
    size = size_of(mine.kind_code, mine.options)

    def place(row: Instrument) -> tuple[bool, bool, bool, str]:
        has_limits = row.readiness == Readiness.WITH_LIMITS
        return row.pk != stood_in, size_of(row.kind_code, row.options) != size, has_limits, row.asset_number

    return sorted(rows.exclude(pk=mine.pk).prefetch_related("accessories"), key=place)


def fits(instrument: Instrument) -> tuple[dict[str, Any], ...]:
    """What the findings of an instrument with limits mean for each level; empty where they limit no level."""
    if instrument.readiness != Readiness.WITH_LIMITS:
        return ()
    standing = standing_of(instrument)
    found = [{"level": level, "player": level_name(level), "sentences": standing.at(level).limits} for level in LEVELS]
    # Limits noted in a play test belong to no level: the fingering chart knows nothing of them.
    return tuple(found) if any(fit["sentences"] for fit in found) else ()
