from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Figure
from inventory.pages.figures import GROUPS, LONG
from inventory.selectors.figures import rules
from inventory.services.figures import set_figures
from tests.factories import make_instrument

pytestmark = pytest.mark.django_db
FIGURES = reverse("inventory:figures")
RATE = reverse("inventory:figure", args=["bench_rate_amount"])


@pytest.fixture
def page(client, administrator):
    client.force_login(administrator)
    return client


def day(days=0):
    return (timezone.localdate(timezone.now()) + timedelta(days=days)).isoformat()


def test_every_figure_is_listed_and_each_sort_of_them_opens(page):
    listed = "".join(page.get(FIGURES, {"group": group} if group else {}).text for group in ("", *LONG))
    sorts = {}
    for rule in rules().values():
        assert reverse("inventory:figure", args=[rule.key]) in listed
        sorts[rule.group in LONG or rule.key, rule.section, rule.shape] = rule.key
    for key in sorts.values():
        assert page.get(reverse("inventory:figure", args=[key])).status_code == 200


def test_figures_are_folded_by_topic_and_those_found_by_words_stand_open(page):
    every = page.get(FIGURES).text
    assert every.count('<details class="fold"') == len(GROUPS) - len(LONG)
    assert reverse("inventory:figure", args=["life-trumpet"]) not in every
    assert page.get(FIGURES, {"group": "prices"}).text.count('<details class="fold" open') == 1
    assert '<details class="fold" open' not in every
    found = page.get(FIGURES, {"q": "bench hour"}).text
    assert 1 <= found.count('<details class="fold"') == found.count('<details class="fold" open') < len(GROUPS)
    assert RATE in found
    assert reverse("inventory:figure", args=["time_zone"]) not in found
    assert "No figure has these words." in page.get(FIGURES, {"q": "<b>"}).text


def test_a_value_is_set_said_and_listed_as_the_district_s(page):
    answer = page.post(RATE, {"value": "42.5", "effective_on": day()}, follow=True)
    assert answer.redirect_chain == [(RATE, 302)]
    assert "$42.50 an hour" in answer.text
    assert "set by the district on" in answer.text
    assert "$42.50 an hour" in page.get(FIGURES).text


def test_a_price_is_a_range_with_its_reason_and_the_default_comes_back(page):
    price = reverse("inventory:figure", args=["price-trumpet-student"])
    sent = {"value": "$900 to 1,400", "effective_on": day(), "because": "Bid of June"}
    text = page.post(price, sent, follow=True).text
    assert "$900 to $1,400" in text
    assert "Bid of June" in text
    assert page.post(price, sent | {"value": "1400 to 900"}).status_code == 422
    page.post(price, sent | {"default": "1", "because": ""})
    assert "the default" in page.get(price).text


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"value": "1000"}, "Enter a number from 0 to 300."),
        ({"value": "<b>"}, "Enter a number from 0 to 300."),
        ({"effective_on": "2020-01-01"}, "That day is in the past."),
        ({"effective_on": "soon"}, "Enter a valid date."),
        ({"value": "30", "default": "1"}, "It already has this value on that day."),
    ],
)
def test_what_is_refused_keeps_what_was_typed(page, typed, says):
    answer = page.post(RATE, {"value": "40", "effective_on": day()} | typed)
    assert answer.status_code == 422
    assert says in answer.text
    assert Figure.objects.count() == 0
    if "default" not in typed:
        assert answer.context["form"]["value"].value() == typed.get("value", "40")


def test_the_same_twice_is_said_to_be_so(page):
    page.post(RATE, {"value": "40", "effective_on": day()})
    assert page.post(RATE, {"value": "40", "effective_on": day()}).status_code == 422
    assert Figure.objects.count() == 1


def test_the_default_comes_back_whatever_stands_in_the_field(page):
    page.post(RATE, {"value": "40", "effective_on": day()})
    text = page.post(RATE, {"value": "x", "effective_on": day(), "default": "1"}, follow=True).text
    assert "shop default, replace with your own" in text
    assert "$30 an hour, the default" in text


def test_what_has_not_begun_is_shown_and_called_off(page):
    page.post(RATE, {"value": "45", "effective_on": day(20)})
    row = Figure.objects.get()
    off = reverse("inventory:call-off-figure", args=[row.pk])
    assert off in page.get(RATE).text
    assert "$45 an hour from" in page.get(FIGURES).text
    text = page.post(off, follow=True).text
    assert off not in text
    assert "$45 an hour from" not in page.get(FIGURES).text


def test_what_stored_state_hangs_on_says_that_it_follows(page):
    make_instrument()
    now = timezone.now()
    assert "Refresh pending" not in page.get(FIGURES).text
    set_figures(values={"inspection_valid_days": "400"}, effective_on=timezone.localdate(now), actor=None, at=now)
    assert "Refresh pending" in page.get(FIGURES).text


def test_there_is_no_figure_of_that_name(page):
    assert page.get(reverse("inventory:figure", args=["no_such"])).status_code == 404


def test_times_are_told_in_the_district_s_zone(page):
    zone = reverse("inventory:figure", args=["time_zone"])
    page.post(zone, {"value": "Pacific/Kiritimati", "effective_on": day()})
    page.get(FIGURES)
    assert timezone.get_current_timezone_name() == "Pacific/Kiritimati"
