"""What rules are told of an instrument: plain values, no rows."""

from __future__ import annotations

from dataclasses import dataclass

from inventory.catalog.schema import Severity


@dataclass(frozen=True, slots=True, order=True)
class FindingFact:
    """One fault at one part (and place), as a rule sees it. ``key`` ties it back to a row, if there is one."""

    part: str
    fault: str
    severity: Severity
    place: str = ""
    detail: str = ""  # "up", "down", "slow", "pulled 12 mm": what the fault's own words leave open
    key: str = ""
