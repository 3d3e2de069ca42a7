"""A swap as typed."""

from __future__ import annotations

from datetime import timedelta

import pytest

from desk.selectors.lending import spares_for
from inventory.models import Instrument
from inventory.services.inspecting import count_accessories
from loans.forms.swapping import SwapForm
from loans.selectors.agreements import current_terms
from tests.factories import NOW, TODAY, make_limited_instrument, make_ready_instrument
from tests.loans.makers import ink_address, make_loan


@pytest.mark.django_db
def test_spares_say_what_speaks_against_them_and_the_bench_asks_what_is_wrong():
    loan = make_loan()
    good, bad = make_ready_instrument(school=loan.school), make_limited_instrument(school=loan.school)
    count_accessories(instrument=good, counts={"snake": 0}, actor=loan.actor, at=NOW)
    spares = spares_for(loan, today=TODAY)
    said = {"loan": loan, "spares": spares, "benches": [("1", "Bench")], "today": TODAY}
    form = SwapForm(**said)
    assert [str(words) for _, words in form.fields["spare"].choices] == [
        f"{good.asset_number}, value $650, without: {Instrument.objects.get(pk=good.pk).accessories.get(code='snake').name}",
        f"{bad.asset_number}, value $650, with limits",
    ]
    assert form.has_limited
    typed = {"spare": good.asset_number, "found": "same", "to": "bench", "bench": "1", "all_here": "on",
             "signed": "later", "terms": current_terms().key}  # fmt: skip
    assert "because" in SwapForm(typed, **said).errors
    assert SwapForm(typed | {"because": "leaks"}, **said).is_valid()
    assert SwapForm(typed | {"to": "store"}, **said).is_valid()
    assert "spare" in SwapForm(typed | {"because": "leaks", "spare": "TD-9999"}, **said).errors
    typed |= {"to": "store"}
    assert set(SwapForm(typed | {"signed": "screen"}, **said).errors) == {"student_signature", "guardian_signature"}
    inked = {"signed": "screen", "student_signature": ink_address(), "guardian_signature": ink_address()}
    signed = SwapForm(typed | inked, **said)
    assert signed.is_valid()
    assert signed.signing()["guardian_signer"] == loan.student.guardian.name
    assert "signed" in SwapForm(typed | {"signed": "paper"}, **said).errors
    late = said | {"today": loan.due_on + timedelta(days=1)}
    assert set(SwapForm(typed, **late).errors) == {"due_on"}
    assert SwapForm(typed | {"due_on": "2027-06-01"}, **late).is_valid()
