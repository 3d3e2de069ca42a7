"""Forms of orders at outside shops."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from repairs.forms.orders import (
    ApproveForm,
    AskForm,
    BackForm,
    EstimateForm,
    InvoiceForm,
    PromiseForm,
    SendForm,
    TakeBackForm,
    work_choices,
)
from tests.factories import TODAY, new_nonce
from tests.repairs.money_makers import make_shop

pytestmark = pytest.mark.django_db


def test_only_shops_still_used_and_work_that_shops_are_paid_for_are_offered():
    used, old = make_shop(), make_shop()
    type(old).objects.filter(pk=old.pk).update(is_used=False)
    form = AskForm(kind=catalog().kinds["trumpet"], standing=[])
    assert list(form.fields["shop"].queryset) == [used]
    assert "findings" not in form.fields
    assert all(is_paid(code) for code, _ in work_choices(catalog().kinds["trumpet"]) if code)


def is_paid(code: str) -> bool:
    trade = catalog()
    method = trade.methods[code]
    rungs = trade.ladders[method.ladder].rungs if method.ladder else ()
    return bool(method.fee) or any(rung.fee for rung in rungs)


def test_what_the_plan_sends_out_comes_first_and_names_its_stuck_part():
    wanted = {"free_valve_slide": "third valve slide"}
    offered = work_choices(catalog().kinds["trumpet"], wanted=wanted)
    assert offered[1] == ("free_valve_slide", "Free the valve slide: third valve slide")
    assert ("free_slide", "Free the tuning slide") in offered


def test_a_kind_is_offered_the_work_it_may_need_and_no_other():
    offered = {code: {work for work, _ in work_choices(kind)} for code, kind in catalog().kinds.items()}
    assert "valve_rebuild" in offered["trumpet"]
    assert "repad_sax" in offered["sax_alto"]
    assert not {"repad_sax", "bow_rehair"} & offered["trumpet"]
    assert "free_valve_slide" in offered["trumpet"] - offered["cello"]
    assert set.union(*offered.values()) - {""} == {code for code in catalog().methods if is_paid(code)}


@pytest.mark.parametrize("fields", [{"question": " "}, {"findings": ["99"]}, {"shop": "0"}, {"work": "moon_work"}])
def test_what_cannot_be_asked_is_asked_again(fields):
    data = {"shop": make_shop().pk, "question": "Free it", "nonce": new_nonce(), "findings": ["1"]} | fields
    assert not AskForm(data, kind=catalog().kinds["trumpet"], standing=[(1, "a slide")]).is_valid()


def test_findings_come_back_as_numbers():
    form = BackForm({"what_was_done": "Freed", "put_right": ["4"]}, asked=[(4, "a slide"), (5, "a dent")])
    assert form.is_valid()
    assert form.cleaned_data["put_right"] == [4]
    assert "put_right" not in BackForm(asked=[]).fields


@pytest.mark.parametrize("amount", ["", "-1", "much"])
def test_money_that_is_none_is_asked_again(amount):
    assert not EstimateForm({"amount": amount, "on": TODAY}).is_valid()
    assert not ApproveForm({"amount": amount}).is_valid()
    assert not InvoiceForm({"amount": amount, "on": TODAY}).is_valid()


def test_nothing_is_no_approval():
    assert not ApproveForm({"amount": "0"}).is_valid()


def test_a_new_promise_is_a_day_and_a_reason_is_said():
    assert not PromiseForm({"promised_on": ""}).is_valid()
    assert not TakeBackForm({"number": "3", "because": " "}).is_valid()
    assert TakeBackForm({"number": "3", "because": "Wrong one"}).is_valid()


def test_a_day_may_be_left_open():
    assert SendForm({}).is_valid()
    assert not SendForm({"promised_on": "soon"}).is_valid()
