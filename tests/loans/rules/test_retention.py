"""Years in the calendar; how many is the district's choice (no source)."""

from __future__ import annotations

from datetime import date

import pytest

from loans.rules.retention import keep_until


@pytest.mark.parametrize(
    ("returned_on", "years", "until"),
    [
        (date(2026, 6, 12), 3, date(2029, 6, 12)),
        (date(2028, 2, 29), 1, date(2029, 3, 1)),
        (date(2028, 2, 29), 4, date(2032, 2, 29)),
        (date(2026, 6, 12), 0, date(2026, 6, 12)),
    ],
)
def test_a_paper_is_kept_for_whole_years(returned_on, years, until):
    assert keep_until(returned_on=returned_on, years=years) == until
