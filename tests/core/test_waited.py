"""How long a tap waited on a phone; that a phone measures a while better than it knows the hour is common practice, no source."""

from datetime import UTC, datetime, timedelta

import pytest

from core.waited import HEADER, tapped_at, waited_on_phone, waiting

NOON = datetime(2026, 9, 1, 12, tzinfo=UTC)
HOUR_MS = 3_600_000


@pytest.mark.parametrize(
    ("said", "hours"),
    [
        (str(HOUR_MS), 1),
        ("59999", 0),  # sent at once, as far as anybody is concerned
        ("", 0),
        ("-5", 0),
        ("NaN", 0),
        ("1e9", 0),
        ("٣٦٠٠٠٠٠", 0),
        (str(100 * HOUR_MS), 72),  # no phone keeps it longer
        ("9" * 400, 72),
        ("9" * 5000, 72),
    ],
)
def test_a_wait_is_what_the_phone_says_within_what_it_keeps(rf, settings, said, hours):
    settings.DEVICE_HOURS = 72
    assert waited_on_phone(rf.post("/", headers={HEADER: said})) == timedelta(hours=hours)


def test_what_waited_was_tapped_so_long_before_it_arrived_and_not_before_what_it_is_about(rf):
    with waiting(rf.post("/", headers={HEADER: str(2 * HOUR_MS)})):
        assert tapped_at(NOON) == NOON - timedelta(hours=2)
        begun = NOON - timedelta(hours=1)
        assert tapped_at(NOON, not_before=begun) == begun
        assert tapped_at(NOON, not_before=NOON + timedelta(hours=1)) == NOON, "nothing is tapped in the future"
    assert tapped_at(NOON) == NOON
