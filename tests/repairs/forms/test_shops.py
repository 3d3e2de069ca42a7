"""Forms of shops and orders."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from repairs.forms.shops import (
    ApproveForm,
    AskForm,
    BackForm,
    EstimateForm,
    InvoiceForm,
    SendForm,
    ShopChangeForm,
    work_choices,
)
from repairs.models import ShopOrder
from tests.factories import TODAY, new_nonce
from tests.repairs.money_makers import make_shop

pytestmark = pytest.mark.django_db


def test_only_shops_still_used_and_work_that_shops_are_paid_for_are_offered():
    used, old = make_shop(), make_shop()
    type(old).objects.filter(pk=old.pk).update(is_used=False)
    form = AskForm(standing=[])
    assert list(form.fields["shop"].queryset) == [used]
    assert "findings" not in form.fields
    assert all(catalog().methods[code].fee for code, _ in work_choices() if code)


@pytest.mark.parametrize("fields", [{"question": " "}, {"findings": ["99"]}, {"shop": "0"}, {"work": "moon_work"}])
def test_what_cannot_be_asked_is_asked_again(fields):
    data = {"shop": make_shop().pk, "question": "Free it", "nonce": new_nonce(), "findings": ["1"]} | fields
    assert not AskForm(data, standing=[(1, "a slide")]).is_valid()


def test_findings_come_back_as_numbers():
    form = BackForm({"what_was_done": "Freed", "put_right": ["4"]}, asked=[(4, "a slide"), (5, "a dent")])
    assert form.is_valid()
    assert form.cleaned_data["put_right"] == [4]
    assert "put_right" not in BackForm(asked=[]).fields


@pytest.mark.parametrize("amount", ["", "-1", "much"])
def test_money_that_is_none_is_asked_again(amount):
    assert not EstimateForm({"amount": amount, "on": TODAY}).is_valid()
    assert not ApproveForm({"amount": amount}).is_valid()
    assert not InvoiceForm({"amount": amount, "on": TODAY}, order=ShopOrder()).is_valid()


def test_nothing_is_no_approval():
    assert not ApproveForm({"amount": "0"}).is_valid()


def test_a_day_may_be_left_open():
    assert SendForm({}).is_valid()
    assert not SendForm({"promised_on": "soon"}).is_valid()


def test_a_shop_is_shown_as_it_is():
    assert ShopChangeForm(shop=make_shop(contact="555"))["contact"].value() == "555"
