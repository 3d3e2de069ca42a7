"""A swap as typed."""

from __future__ import annotations

import pytest

from desk.selectors.lending import spares_for
from inventory.models import Instrument
from inventory.services.inspecting import count_accessories
from loans.forms.swapping import SwapForm
from tests.factories import NOW, TODAY, make_limited_instrument, make_ready_instrument
from tests.loans.makers import make_loan


@pytest.mark.django_db
def test_spares_say_what_speaks_against_them_and_the_bench_asks_what_is_wrong():
    loan = make_loan()
    good, bad = make_ready_instrument(school=loan.school), make_limited_instrument(school=loan.school)
    count_accessories(instrument=good, counts={"snake": 0}, actor=loan.actor, at=NOW)
    spares = spares_for(loan, today=TODAY)
    said = {"loan": loan, "spares": spares, "benches": [("1", "Bench")]}
    form = SwapForm(**said)
    assert [str(words) for _, words in form.fields["spare"].choices] == [
        f"{good.asset_number}, without: {Instrument.objects.get(pk=good.pk).accessories.get(code='snake').name}",
        f"{bad.asset_number}, with limits",
    ]
    assert form.has_limited
    typed = {"spare": good.asset_number, "found": "same", "to": "bench", "bench": "1", "all_here": "on"}
    assert "because" in SwapForm(typed, **said).errors
    assert SwapForm(typed | {"because": "leaks"}, **said).is_valid()
    assert SwapForm(typed | {"to": "store"}, **said).is_valid()
    assert "spare" in SwapForm(typed | {"because": "leaks", "spare": "TD-9999"}, **said).errors
