"""Source: instructions to US Form 8282 (a disposal within three years of the day of receipt is reported)."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.rules.gifts import watched_until


@pytest.mark.parametrize(
    ("received", "until"),
    [(date(2024, 9, 1), date(2027, 9, 1)), (date(2024, 2, 29), date(2027, 2, 28))],
    ids=["ordinary day", "leap day"],
)
def test_a_signed_form_is_watched_for_three_years_from_receipt(received, until):
    assert watched_until(received_on=received, signed_on=date(2025, 1, 10)) == until


def test_without_a_signed_form_nothing_is_watched():
    assert watched_until(received_on=date(2024, 9, 1), signed_on=None) is None
