"""Forms of stock and parts."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.models import Instrument
from repairs.forms.stock import CountForm, JobsForm, ReceiveForm, StockChangeForm, StockItemForm, TakePartForm
from repairs.pages.donors import offers_of
from tests.factories import make_bench, make_ready_instrument, new_nonce
from tests.repairs.money_makers import make_item, make_parts_instrument

pytestmark = pytest.mark.django_db


def test_what_the_bench_keeps_already_is_not_offered():
    item = make_item(code="pad")
    codes = {code for code, _ in StockItemForm(bench=item.bench).fields["code"].choices}
    assert "pad" not in codes
    assert "valve_oil" in codes
    assert "pad" in {code for code, _ in StockItemForm(bench=make_bench()).fields["code"].choices}


def test_a_free_part_may_be_renamed_a_thing_of_the_catalog_not():
    assert "name" in StockChangeForm(item=make_item(name="Stop")).fields
    assert "name" not in StockChangeForm(item=make_item()).fields


@pytest.mark.parametrize("quantity", ["", "0", "-1", "many", "1.2345", "1e99", "NaN"])
def test_a_quantity_that_cannot_be_received_is_asked_again(quantity):
    assert not ReceiveForm({"quantity": quantity, "nonce": new_nonce()}).is_valid()


def test_nothing_may_be_counted():
    form = CountForm({"quantity": "0", "nonce": new_nonce()})
    assert form.is_valid()
    assert form.cleaned_data["quantity"] == Decimal(0)


def test_a_form_without_its_nonce_counts_each_time():
    forms = [CountForm({"quantity": "1"}) for _ in range(2)]
    assert all(form.is_valid() for form in forms)
    assert forms[0].cleaned_data["nonce"] != forms[1].cleaned_data["nonce"]


@pytest.mark.parametrize(("jobs", "is_valid"), [("0", True), ("60", True), ("61", False), ("x", False)])
def test_jobs_to_shop_for_are_few(jobs, is_valid):
    assert JobsForm({"jobs": jobs}).is_valid() is is_valid


def test_a_set_is_taken_as_a_set_and_the_number_is_found_in_any_case():
    parts_instrument, onto = make_parts_instrument(), make_ready_instrument()
    data = {"offer": "piston:1", "onto": onto.asset_number.lower(), "nonce": new_nonce()}
    form = TakePartForm(data, offers=offers_of(parts_instrument), instruments=Instrument.objects.all())
    assert form.is_valid()
    taken = form.taken()
    assert (taken["part"], taken["place"], taken["is_set"], taken["onto"]) == ("piston", "1", True, onto)
