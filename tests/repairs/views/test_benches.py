"""Benches in the browser."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from repairs.models import WORDS_OF_ADDRESSES, Bench
from repairs.urls import urlpatterns
from tests.factories import make_bench, make_school
from tests.repairs.makers import make_job, make_school_bench, state_of_rows
from tests.repairs.views.pages import queries_of

LIST = reverse("repairs:benches")
ADD = reverse("repairs:add-bench")
SENT = {
    "name": "North shop",
    "rate_amount": "31.50",
    "tools": ["tub"],
    "methods": ["free_valve_slide"],
    "has_torch": "on",
}


def page_of(bench):
    return reverse("repairs:bench", args=[bench.code])


def test_the_list_says_what_each_bench_may_not_do(client, school, tech):
    client.force_login(tech)
    make_bench(school=school, name="Corner", has_torch=False)
    make_bench(name="Somebody else's")
    page = client.get(LIST).text
    assert "Corner" in page
    assert "no torch" in page
    assert "missing from a first bench" in page
    assert "Somebody else" not in page


def test_the_list_costs_the_same_for_one_bench_and_for_five(client, school, tech):
    client.force_login(tech)
    make_bench(school=school)
    cost = queries_of(client, LIST)
    for _ in range(4):
        make_bench(school=school)
    assert queries_of(client, LIST) == cost <= 7


def test_the_profile_shows_its_ticks(client, school, tech):
    client.force_login(tech)
    bench = make_school_bench(school)
    page = client.get(page_of(bench)).text
    assert 'value="tub" checked' in page
    assert re.search(r'name="has_torch"[^>]*checked', page) is None
    assert re.search(r'name="has_chemicals"[^>]*checked', page)


def test_the_profile_is_changed(client, school, tech):
    client.force_login(tech)
    bench = make_bench(school=school)
    client.post(page_of(bench), SENT)
    bench.refresh_from_db()
    assert (bench.name, bench.rate_amount, bench.has_torch) == ("North shop", Decimal("31.50"), True)
    assert (bench.tools, bench.methods) == (["tub"], ["free_valve_slide"])


def test_an_empty_rate_goes_by_the_districts_and_the_list_says_whose_it_is(client, school, tech):
    client.force_login(tech)
    bench = make_bench(school=school)
    client.post(page_of(bench), SENT)
    assert re.search(r"\$31\.50 an hour\s.*its own", client.get(LIST).text, re.DOTALL)
    client.post(page_of(bench), SENT | {"rate_amount": ""})
    bench.refresh_from_db()
    assert bench.rate_amount is None
    assert re.search(r"\$30(\.00)? an hour\s.*the district's", client.get(LIST).text, re.DOTALL)


@pytest.mark.parametrize("wrong", [{"name": ""}, {"rate_amount": "-1"}, {"tools": ["laser"]}, {"methods": ["magic"]}])
def test_what_makes_no_bench_is_refused_and_nothing_written(client, school, tech, wrong):
    client.force_login(tech)
    bench = make_bench(school=school)
    before = state_of_rows()
    assert client.post(page_of(bench), SENT | wrong).status_code == 422
    assert state_of_rows() == before


def test_a_bench_is_added(client, school, tech):
    client.force_login(tech)
    assert 'value="screwdrivers" checked' in client.get(ADD).text
    client.post(ADD, SENT | {"code": "north", "school": school.pk})
    assert Bench.objects.get(code="north").school == school


@pytest.mark.parametrize("code", ["taken", "Two Words", "", "x" * 40])
def test_a_short_name_that_cannot_be_is_refused(client, school, tech, code):
    client.force_login(tech)
    make_bench(school=school, code="taken")
    before = state_of_rows()
    assert client.post(ADD, SENT | {"code": code, "school": school.pk}).status_code == 422
    assert state_of_rows() == before


def test_a_bench_cannot_be_added_at_another_school(client, school, tech):
    client.force_login(tech)
    before = state_of_rows()
    assert client.post(ADD, SENT | {"code": "north", "school": make_school().pk}).status_code == 422
    assert state_of_rows() == before


def test_a_director_reads_the_list_and_changes_nothing(client, school, director):
    client.force_login(director)
    bench = make_bench(school=school)
    assert "Add a bench" not in client.get(LIST).text
    assert client.post(page_of(bench), SENT).status_code == 403


@pytest.mark.parametrize("code", ["add", "item", "parts-horns"])
def test_a_bench_named_like_an_address_from_before_opens_with_its_stock_and_no_new_one_is_named_so(
    client, school, tech, code
):
    client.force_login(tech)
    assert client.post(ADD, SENT | {"code": code, "school": school.pk}).status_code == 422
    bench = make_bench(school=school, code=code, name="Old bench")
    make_bench(school=school, name="Another")
    assert page_of(bench) in client.get(LIST).text
    assert "Save bench" in client.get(page_of(bench)).text
    for name in ("bench-stock", "add-stock", "shopping", "shopping-csv"):
        answer = client.get(reverse(f"repairs:{name}", args=[code]))
        assert "Old bench" in answer.text or name == "shopping-csv"
        assert answer.status_code == 200
        assert answer.resolver_match.url_name == name


def test_every_word_that_stands_where_a_bench_may_stand_is_refused_as_a_code():
    routes = [str(one.pattern) for one in urlpatterns]
    before = {route.partition("<bench:")[0] for route in routes if "<bench:" in route}
    words = {route[len(head) :].partition("/")[0] for head in before for route in routes if route.startswith(head)}
    assert {one for one in words if one and "<" not in one} == WORDS_OF_ADDRESSES


def test_a_short_name_with_any_letter_that_it_may_have_opens(client, school, tech):
    client.force_login(tech)
    for code in ("-", "0", "add-", "a" * 20, "shopping", "benches"):
        bench = make_bench(school=school, code=code, name=f"Bench {code}")
        assert f"Bench {code}" in client.get(page_of(bench)).text


def test_a_bench_is_retired_from_its_page_and_brought_back(client, school, tech):
    client.force_login(tech)
    bench = make_bench(school=school, name="Corner")
    make_bench(school=school, name="Other")
    retire = reverse("repairs:retire-bench", args=[bench.code])
    assert retire in client.get(page_of(bench)).text
    assert "it can come back" in client.get(retire).text
    for _ in range(2):
        assert client.post(retire).status_code == 302
    assert "retired on" in client.get(LIST).text
    assert "Corner" not in client.get(reverse("repairs:stock"), follow=True).text
    assert "This bench was retired on" in client.get(reverse("repairs:bench-stock", args=[bench.code])).text
    back = reverse("repairs:bring-back-bench", args=[bench.code])
    assert back in client.get(page_of(bench)).text
    client.post(back)
    assert "retired on" not in client.get(LIST).text


def test_a_bench_with_work_stays_and_its_page_says_what_is_in_the_way(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school)
    answer = client.post(reverse("repairs:retire-bench", args=[job.bench.code]))
    assert answer.status_code == 422
    assert job.instrument.asset_number in answer.text


def test_a_bench_of_another_school_is_not_there_to_be_retired(client, tech):
    client.force_login(tech)
    for name in ("retire-bench", "bring-back-bench"):
        assert client.post(reverse(f"repairs:{name}", args=[make_bench().code])).status_code == 404
