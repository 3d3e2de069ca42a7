"""Numbers and money as forms of the bench take them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django import forms

from repairs.forms.fields import money, number


class Asked(forms.Form):
    much = number("Much", required=False)
    paid = money("Paid", most=Decimal(500))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"much": "-1"}, "Enter 0 or more."),
        ({"much": "0.1234"}, "Round it to three digits after the point."),
        ({"paid": "-0.01"}, "Enter $0 or more."),
        ({"paid": "1.234"}, "Enter dollars and cents."),
        ({"paid": "500.01"}, "Enter $500 or less."),
        ({"much": "0.125", "paid": "500"}, ""),
    ],
)
def test_what_cannot_be_so_is_refused_with_what_may_be_entered(typed, said):
    assert " ".join(sentence for errors in Asked(typed).errors.values() for sentence in errors) == said
