"""Which days are believed: one further off is a slip of the finger, most often in the year. Common practice, no source.

A service checks the days it is given against these; the form it was typed into shows the sentence and keeps the rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from core.exceptions import RefusedError
from core.translation import gettext as _

LONG_YEAR: Final = 366


@dataclass(frozen=True, slots=True)
class DayBounds:
    """From so many years before today to so many after it."""

    years_back: int = 0
    years_ahead: int = 0

    def refusal(self, day: date | None, *, today: date) -> str:
        """Return why the day is not believed, or ""."""
        if day is None:
            return ""
        if day > today + timedelta(days=LONG_YEAR * self.years_ahead):
            if not self.years_ahead:
                return _("That day is in the future.")
            return _("That is more than %(years)s years away. Check the year.", years=self.years_ahead)
        if day < today - timedelta(days=LONG_YEAR * self.years_back):
            if not self.years_back:
                return _("That day is in the past.")
            return _("That is more than %(years)s years ago. Check the year.", years=self.years_back)
        return ""

    def check(
        self, day: date | None, *, today: date, label: str = "", refusal: type[RefusedError] = RefusedError
    ) -> None:
        """Raise ``refusal`` for a day that is not believed; ``label`` says which one where a form asks for several."""
        if words := self.refusal(day, today=today):
            raise refusal(f"{label}: {words}" if label else words)


ACQUIRED: Final = DayBounds(years_back=150)  # an instrument, or a gift with its thanks and its tax form
# What is written down after it happened: care, an estimate, a bill, a leaving.
RECORDED: Final = DayBounds(years_back=3)
DUE: Final = DayBounds(years_ahead=3)  # a loan, counted from the day it begins
PROMISED: Final = DayBounds(years_ahead=2)  # a job, or a shop's work
WARRANTY: Final = DayBounds(years_back=3, years_ahead=5)  # its last day; it may be noted after it has run out
