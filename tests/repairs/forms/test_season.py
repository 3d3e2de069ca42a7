from __future__ import annotations

import pytest

from repairs.forms.season import SeasonForm


@pytest.mark.parametrize(
    ("data", "days"), [(None, 365), ({"span": "90"}, 90), ({"span": "7"}, 365), ({"span": "<b>"}, 365), ({}, 365)]
)
def test_a_span_nobody_offers_counts_as_the_usual_one(data, days):
    assert SeasonForm(data).days == days
