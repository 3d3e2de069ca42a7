"""The page of a swap."""

from __future__ import annotations

import pytest
from django.urls import reverse
from zeal import zeal_ignore

from loans.models import Loan
from tests.factories import make_bench, make_ready_instrument
from tests.loans.makers import make_loan


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def test_from_the_loan_to_the_spare_and_back_by_links(desk, school):
    loan, bench = make_loan(school=school), make_bench(school=school)
    address = reverse("desk:swap", args=[loan.instrument.asset_number])
    assert address in desk.get(reverse("loans:loan", args=[loan.pk])).text
    assert address in desk.get(reverse("desk:instrument", args=[loan.instrument.asset_number])).text
    assert "No other of its kind" in desk.get(address).text
    spare = make_ready_instrument(school=school)
    make_ready_instrument(serial="elsewhere")
    page = desk.get(address)
    assert list(page.context["form"].spares) == [spare.asset_number]
    assert desk.post(address, {"spare": spare.asset_number}).status_code == 422
    typed = {"spare": spare.asset_number, "found": "same", "to": "bench", "bench": bench.pk, "because": "leaks",
             "all_here": "on", "keeps": ["mouthpiece"]}  # fmt: skip
    with zeal_ignore():  # two instruments, each read once
        done = desk.post(address, typed, follow=True).text
    assert f"{spare.asset_number} is lent in place of {loan.instrument.asset_number}" in done
    assert reverse("loans:loan", args=[loan.pk]) in done
    new = Loan.objects.get(in_place_of=loan)
    assert reverse("loans:loan", args=[new.pk]) in desk.get(reverse("loans:loan", args=[loan.pk])).text
    assert "It is not out on loan" in desk.get(address).text
