"""Choices of the property record."""

from __future__ import annotations

import pytest

from desk.forms.property import PropertyForm


@pytest.mark.parametrize(
    ("data", "chosen"),
    [
        (None, ("all", "")),
        ({"scope": "federal", "without": "cost"}, ("federal", "cost")),
        ({"scope": "moon", "without": "serial"}, ("all", "serial")),
        ({"without": "any"}, ("all", "any")),
    ],
)
def test_an_unknown_choice_counts_as_none(data, chosen):
    assert PropertyForm(data).chosen() == chosen
