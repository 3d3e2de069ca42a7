"""Give-back in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from types import MappingProxyType
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext

from desk.selectors.give_back import Scanned
from inventory.catalog.load.language import catalog_word
from inventory.models import ProblemReport
from loans.models import Loan
from loans.rules.due import UNDO_FOR

MOST_NAMED = 5


def refusal_of(scan: Scanned, *, text: str, today: date) -> str:
    """Return why a scan takes nothing back; "" where it does."""
    if scan.loan is not None:
        return ""
    if scan.several:
        numbers = ", ".join(one.asset_number for one in scan.several[:MOST_NAMED])
        return gettext("%(text)s may be %(numbers)s. Type the whole number.") % {"text": text, "numbers": numbers}
    if scan.instrument is None:
        if scan.owner is not None:
            return gettext("It belongs to %(school)s. Set it aside.") % {"school": scan.owner.name}
        return gettext("No instrument at your schools is %(text)s. Nothing was taken back.") % {"text": text}
    values = {"number": scan.instrument.asset_number, "place": scan.instrument.get_whereabouts_display().lower()}
    if scan.lent_elsewhere:
        return gettext("%(number)s was lent by another school, which takes it back.") % values
    at = scan.last.returned_at if scan.last else None
    if at is not None and timezone.localdate(at) == today:
        values["time"] = date_format(timezone.localtime(at), "g:i a")
        return gettext("%(number)s was already taken back at %(time)s.") % values
    return gettext("%(number)s is not lent: it is %(place)s.") % values


def back_lines(
    loans: Iterable[Loan], *, now: datetime, reports: Mapping[int, ProblemReport] = MappingProxyType({})
) -> list[dict[str, Any]]:
    """Return what came back, each with what went along and whether it is here, and whether it can still be undone.

    ``reports``: by instrument, the problem that its job is to be opened for.
    """
    return [
        {
            "loan": loan,
            "instrument": loan.instrument,
            "may_undo": loan.returned_at is not None and now - loan.returned_at <= UNDO_FOR,
            "report": reports.get(loan.instrument_id),
            "accessories": accessory_lines(loan),
            "short": [line for line in accessory_lines(loan) if line["missing"]],
        }
        for loan in loans
    ]


def accessory_lines(loan: Loan) -> list[dict[str, Any]]:
    """Return each accessory with how many went out, are missing, and would be back after a tap: one fewer, or all."""
    back = {row["code"]: int(row["count"]) for row in loan.accessories_back}
    lines = []
    for row in loan.accessories:
        count, here = int(row["count"]), back.get(row["code"], 0)
        if count:
            lines.append({
                "code": row["code"],
                "name": catalog_word(row["name"]),
                "count": count,
                "missing": count - here,
                "after": here - 1 if here else count,
            })  # fmt: skip
    return lines
