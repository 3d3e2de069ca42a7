from __future__ import annotations

from decimal import Decimal
from uuid import uuid4

import pytest

from desk.forms.season_plan import SeasonJobsForm, SeasonPlanForm
from desk.rules.season_plan import Budgets
from desk.selectors.season_plan import NO_BENCH
from inventory.models import Instrument, School
from repairs.models import Bench
from tests.factories import make_bench, make_school

pytestmark = pytest.mark.django_db


def form_of(data):
    return SeasonPlanForm(data, schools=School.objects.order_by("code"), benches=Bench.objects.all())


def test_an_empty_limit_is_none_and_zero_is_zero():
    bench = make_bench(school=make_school(code="ELM", name="Elm Street Middle"))
    form = form_of({"goal": "priority", f"hours_{bench.pk}": "0", "shop_money": "120.50"})
    assert form.is_valid(), form.errors
    assert form.budgets == Budgets({bench.code: Decimal(0)}, None, Decimal("120.50"), None)


def test_hours_without_a_bench_are_asked_where_a_school_has_none():
    make_bench(school=make_school(code="ELM", name="Elm Street Middle"))
    assert "hours_none" not in form_of(None).fields
    make_school(code="ASH", name="Ash Street Middle")
    form = form_of({"goal": "most", "hours_none": "6"})
    assert form.is_valid(), form.errors
    assert form.budgets == Budgets({NO_BENCH: Decimal(6)}, None, None, None)


def test_less_than_nothing_is_refused():
    assert "repair_money" in form_of({"goal": "most", "repair_money": "-1"}).errors


def test_the_numbers_of_the_repairs_come_one_a_line():
    form = SeasonJobsForm({"numbers": "TV-0001\nTV-0002", "nonce": str(uuid4())})
    assert form.is_valid(), form.errors
    assert form.cleaned_data["numbers"] == ["TV-0001", "TV-0002"]


def test_a_number_with_a_space_is_one_number():
    form = SeasonJobsForm({"numbers": "TP 12\r\nTP-0013", "nonce": uuid4()})
    assert form.is_valid()
    assert form.cleaned_data["numbers"] == ["TP 12", "TP-0013"]


def test_as_many_numbers_as_a_plan_may_offer_are_taken_and_no_more():
    """The longest number has 20 characters (Instrument.asset_number)."""
    longest = Instrument._meta.get_field("asset_number").max_length
    numbers = [f"{n:0{longest}}" for n in range(5_000)]
    form = SeasonJobsForm({"numbers": "\r\n".join(numbers), "nonce": uuid4()})
    assert form.is_valid(), form.errors
    assert form.cleaned_data["numbers"] == numbers
    assert not SeasonJobsForm({"numbers": "x" * 110_001, "nonce": uuid4()}).is_valid()
