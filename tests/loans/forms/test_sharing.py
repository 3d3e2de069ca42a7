"""Who uses it, as typed."""

from __future__ import annotations

import pytest

from loans.forms.sharing import SharingForm
from loans.selectors.sharing import period_lines
from tests.loans.makers import make_shared_use


@pytest.mark.django_db
def test_a_choice_for_each_class():
    use = make_shared_use()
    lines, name = period_lines(use.instrument), f"period-{use.period_id}"
    assert SharingForm(lines=lines)[name].value() == str(use.seat_id)
    for typed, seat in ((str(use.seat_id), use.seat_id), ("", None)):
        form = SharingForm({name: typed}, lines=lines)
        assert form.is_valid()
        assert form.seats() == {use.period_id: seat}
    assert not SharingForm({name: "0"}, lines=lines).is_valid()
