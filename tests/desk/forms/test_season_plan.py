from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from time import time
from uuid import uuid4

import pytest

from desk.forms.season_plan import SeasonPlanForm, StartedForm, StartSeasonForm
from desk.rules.season_plan import Budgets
from desk.selectors.season_plan import NO_BENCH
from inventory.models import School
from repairs.models import Bench
from tests.factories import TODAY, make_bench, make_school

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


def plan_of(**overrides):
    plan = {"to_start": ["TV-0001", "TP 12"], "to_send": ["TV-0003"], "to_wait": ["TV-0004"]}
    return plan | {"to_request": [{"school": "ELM"}], "needed_by": None} | overrides


def sealed_plan() -> str:
    return StartSeasonForm.of(plan_of(), words={}, today=TODAY)["plan"].value()


@pytest.mark.parametrize("day", [None, date(2026, 9, 1)])
def test_a_plan_comes_back_as_it_was_shown(day):
    shown = StartSeasonForm.of(plan_of(needed_by=day), words={}, today=TODAY)
    form = StartSeasonForm({"plan": shown["plan"].value(), "nonce": uuid4(), "jobs": "on"}, today=TODAY)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["plan"] == {
        "numbers": ["TV-0001", "TP 12"],
        "orders": ["TV-0003"],
        "waiting": ["TV-0004"],
        "requests": [{"school": "ELM"}],
        "needed_by": day,
        "made_on": str(TODAY),
    }


def test_a_plan_that_was_changed_on_the_way_is_refused():
    sealed = sealed_plan()
    for changed in ("x" + sealed, sealed[:-1], "{}"):
        assert StartSeasonForm({"plan": changed}, today=TODAY).errors["plan"] == ["Run the plan again."]
    assert StartSeasonForm({}, today=TODAY).errors


def test_a_plan_of_yesterday_or_of_many_hours_ago_is_refused(monkeypatch):
    sealed, words = sealed_plan(), ["This plan is from another day. Run it again."]
    assert StartSeasonForm({"plan": sealed}, today=TODAY + timedelta(days=1)).errors["plan"] == words
    now = time()
    monkeypatch.setattr("django.core.signing.time.time", lambda: now + 13 * 3600)
    assert StartSeasonForm({"plan": sealed}, today=TODAY).errors["plan"] == words


def test_neither_jobs_nor_orders_nor_purchases_is_refused():
    form = StartSeasonForm({"plan": sealed_plan()}, today=TODAY)
    assert form.non_field_errors() == ["Choose jobs, shop orders or purchases."]


def test_the_choice_is_offered_where_there_are_both():
    for words, hidden in (({"jobs": "Open 1 job"}, 5), ({"jobs": "Open 1 job", "purchases": "Request 1"}, 3)):
        form = StartSeasonForm.of(plan_of(), words=words, today=TODAY)
        assert len(form.hidden_fields()) == hidden
        assert [field.label for field in form.visible_fields()] == (list(words.values()) if hidden == 3 else [])


def test_the_moment_of_a_start_is_read_to_the_microsecond():
    moment = datetime(2026, 8, 3, 14, 5, 6, 789, tzinfo=UTC)
    form = StartedForm({"at": moment.isoformat()})
    assert form.is_valid(), form.errors
    assert form.cleaned_data["at"] == moment
    assert not StartedForm({"at": "yesterday"}).is_valid()
