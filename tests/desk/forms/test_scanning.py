from __future__ import annotations

import pytest

from desk.forms.scanning import FindForm


@pytest.mark.parametrize("text", ["", "   ", "x" * 301])
def test_nothing_and_too_much_are_refused_for_finding(text):
    assert not FindForm({"text": text}).is_valid()


@pytest.mark.parametrize("text", ["TD-0001", "  td-1 ", "\u202e1000-DT", "<b>7</b>", "x" * 300])
def test_whatever_stands_on_an_instrument_may_be_typed(text):
    assert FindForm({"text": text}).is_valid()
