from __future__ import annotations

from types import SimpleNamespace

from desk.forms.charging import ChargeForm, DamageForm
from desk.pages.charging import CHOSEN, PRICE

MOUTHPIECE = SimpleNamespace(key="a-1", name="Mouthpiece", is_charged=False)
RETURNED = SimpleNamespace(offered=["f-1", "a-1"], short=[MOUTHPIECE], proposed=["f-1"])


def test_what_is_proposed_stands_until_somebody_chooses():
    assert DamageForm(returned=RETURNED).chosen() == ["f-1"]
    assert DamageForm({CHOSEN: []}, returned=RETURNED).chosen() == []


def test_a_missing_accessory_with_a_price_is_chosen():
    form = DamageForm({CHOSEN: ["f-1"], f"{PRICE}a-1": "38.50", f"{PRICE}f-1": ""}, returned=RETURNED)
    assert form.chosen() == ["f-1", "a-1"]
    assert {key: str(price) for key, price in form.prices().items()} == {"a-1": "38.50"}


def test_wear_cannot_be_chosen():
    form = DamageForm({CHOSEN: ["f-2"]}, returned=RETURNED)
    assert form.errors[CHOSEN] == ["Some of that is wear, or was charged already."]


def test_a_charge_needs_its_amount():
    assert "amount" in ChargeForm({CHOSEN: ["f-1"]}, returned=RETURNED).errors
