"""Forms of orders at outside shops."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.models import Instrument
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
from tests.repairs.money_makers import make_shop, make_stuck_instrument

pytestmark = pytest.mark.django_db


def offered(kind, **fields):
    return {code: name for _, group in work_choices(kind, **fields) if isinstance(group, list) for code, name in group}


def test_only_shops_still_used_are_offered():
    used, old = make_shop(), make_shop()
    type(old).objects.filter(pk=old.pk).update(is_used=False)
    form = AskForm(kind=catalog().kinds["trumpet"], standing=[])
    assert list(form.fields["shop"].queryset) == [used]
    assert not {"findings", "also"} & set(form.fields)


def test_what_its_findings_need_comes_first_and_names_the_parts():
    kind = catalog().kinds["trumpet"]
    groups = work_choices(kind, wanted={"free_valve_slide": "third valve slide"})
    assert groups[1][1] == [("free_valve_slide", "Free the valve slide: third valve slide")]
    assert [code for code, _ in (groups[0], groups[-1])] == ["", "other"]
    assert "free_valve_slide" not in dict(groups[2][1])


def test_a_kind_is_offered_all_the_work_it_may_need_and_no_other():
    kinds = catalog().kinds
    assert "valve_rebuild" in offered(kinds["trumpet"])
    assert "repad_sax" in offered(kinds["sax_alto"])
    assert not {"repad_sax", "bow_rehair"} & set(offered(kinds["trumpet"]))
    assert "free_valve_slide" in set(offered(kinds["trumpet"])) - set(offered(kinds["cello"]))


def test_other_work_is_only_chosen_and_then_said():
    kind, data = catalog().kinds["trumpet"], {"shop": make_shop().pk, "question": "Please", "nonce": new_nonce()}
    for fields in ({}, {"work": ""}, {"work": "other"}):
        assert not AskForm(data | fields, kind=kind, standing=[]).is_valid()
    form = AskForm(data | {"work": "other", "other_work": "Engrave the bell"}, kind=kind, standing=[])
    assert form.is_valid()
    assert (form.cleaned_data["work"], form.cleaned_data["question"]) == ("", "Engrave the bell\nPlease")


def test_others_are_named_by_tick_or_number_and_only_from_those_that_may_go():
    one, two, gone = (make_stuck_instrument() for _ in range(3))
    rows = Instrument.objects.exclude(pk=gone.pk)
    data = {"shop": make_shop().pk, "question": "Free it", "nonce": new_nonce(), "work": "free_slide"}

    def others(**fields):
        offered = [(one.asset_number, "One")]
        return AskForm(data | fields, kind=one.kind, standing=[], others=rows, offered=offered)

    form = others(also=[one.asset_number], also_numbers=f"{two.asset_number.lower()}, {one.asset_number}")
    assert form.is_valid(), form.errors
    assert form.cleaned_data["others"] == [one, two]
    assert not others(also_numbers=gone.asset_number).is_valid()
    assert not others(also=[gone.asset_number]).is_valid()


@pytest.mark.parametrize("fields", [{"question": " "}, {"findings": ["99"]}, {"shop": "0"}, {"work": "moon_work"}])
def test_what_cannot_be_asked_is_asked_again(fields):
    data = {
        "shop": make_shop().pk,
        "question": "Free it",
        "nonce": new_nonce(),
        "findings": ["1"],
        "work": "free_slide",
    }
    data |= fields
    assert not AskForm(data, kind=catalog().kinds["trumpet"], standing=[(1, "a slide")]).is_valid()


def test_findings_come_back_as_numbers():
    form = BackForm({"what_was_done": "Freed", "put_right": ["4"]}, findings=[(4, "a slide"), (5, "a dent")])
    assert form.is_valid()
    assert form.cleaned_data["put_right"] == [4]
    assert "put_right" not in BackForm(findings=[]).fields


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
