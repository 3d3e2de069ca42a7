"""A hold needs a reason and a day."""

from __future__ import annotations

import pytest

from loans.forms.holds import HoldForm
from tests.factories import new_nonce


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"reason": "Case 12", "ends_on": "2027-05-01"}, []),
        ({"ends_on": "2027-05-01"}, ["reason"]),
        ({"reason": "Case 12", "ends_on": "soon"}, ["ends_on"]),
        ({"reason": "x" * 401, "ends_on": "2027-05-01"}, ["reason"]),
    ],
)
def test_both_are_asked(typed, wrong):
    assert list(HoldForm({"nonce": str(new_nonce()), **typed}).errors) == wrong
