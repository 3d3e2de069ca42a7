"""Which figures there are, what they take and how they are said."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.catalog.figures import (
    SCHOOL_YEAR_ENDS,
    TIME_ZONE,
    FigureError,
    figure_rules,
    known_zones,
    laid_over,
    zone_choices,
    zone_words,
)
from inventory.catalog.load import FOLDER, load_catalog, shipped_catalog
from inventory.catalog.schema import Origin
from inventory.pages.figures import GROUPS

PRICE_WORDS = "Enter the least and the most, from 0 to 100000, as in 500 to 1,100."
MINUTES_WORDS = "Enter the least, the usual and the most, from 0 to 6000, as in 10, 20, 40."
TRADE = shipped_catalog()
RULES = figure_rules(TRADE, time_zone="America/Chicago")


def test_every_setting_is_a_figure_by_its_name_but_those_that_make_a_day():
    settings = {rule.code for rule in RULES.values() if rule.section == "settings"}
    assert TRADE.settings.keys() - settings == {
        "school_year_ends_month", "school_year_ends_day", "first_term_ends_month", "first_term_ends_day",
        "fiscal_year_begins_month", "fiscal_year_begins_day",
    }  # fmt: skip


def test_every_default_lies_within_what_is_accepted_and_reads_back():
    for rule in RULES.values():
        assert rule.read(rule.typed(rule.default)) == rule.default, rule.key
        assert rule.in_words(rule.default), rule.key


def test_every_figure_stands_under_a_heading():
    assert {rule.group for rule in RULES.values()} == {code for code, _ in GROUPS}


@pytest.mark.parametrize(
    ("key", "typed", "says"),
    [
        ("repair_limit", "", "Enter a number from 10 to 100."),
        ("repair_limit", "0.5", "Enter a number from 10 to 100."),
        ("repair_limit", "101", "Enter a number from 10 to 100."),
        ("repair_limit", "half", "Enter a number from 10 to 100."),
        ("bench_rate_amount", "-1", "Enter a number from 0 to 300."),
        ("bench_rate_amount", "nan", "Enter a number from 0 to 300."),
        ("bench_rate_amount", "1e400", "Enter a number from 0 to 300."),
        ("bench_rate_amount", "30.00001", "Use no more than four digits after the point."),
        ("inspection_valid_days", "365.5", "Enter a whole number from 30 to 1830."),
        ("care-bath-months", "0", "Enter a whole number from 1 to 120."),
        (SCHOOL_YEAR_ENDS, "2-30", "That month does not have that day."),
        (SCHOOL_YEAR_ENDS, "soon", "That month does not have that day."),
        (TIME_ZONE, "Mars/Olympus", "Choose a time zone from the list."),
        (TIME_ZONE, "../etc/passwd", "Choose a time zone from the list."),
        ("price-trumpet-student", "500", PRICE_WORDS),
        ("price-trumpet-student", "1100 to 500", PRICE_WORDS),
        ("price-trumpet-student", "-5 to 500", PRICE_WORDS),
        ("price-trumpet-student", "nan nan", PRICE_WORDS),
        ("price-trumpet-student", "500 to 1e9", PRICE_WORDS),
        ("life-trumpet", "10.5 to 20", "Enter the least and the most, from 1 to 100, as in 500 to 1,100."),
        ("minutes-intake_inspect", "10 20", MINUTES_WORDS),
        ("odds-tuning_slide-hand", "101", "Enter a number from 0 to 100."),
    ],
)
def test_what_is_not_accepted_is_refused_with_what_is(key, typed, says):
    with pytest.raises(FigureError) as refused:
        RULES[key].read(typed)
    assert str(refused.value) == says


@pytest.mark.parametrize(
    ("key", "typed", "kept", "said"),
    [
        ("repair_limit", "55", "0.55", "55% of replacement value"),
        ("bench_rate_amount", " 42,50 ", "42.5", "$42.50 an hour"),
        ("waiting_day_amount", "2", "2", "$2 a day"),
        ("approver_is_another", "0", "0", "no"),
        ("care-bath-months", "9", "9", "every 9 months"),
        ("care-bath-idle_months", "0", "0", "not due"),
        (SCHOOL_YEAR_ENDS, "6-12", "06-12", "June 12"),
        ("price-trumpet-student", "$500 to 1,100.50", "500 1100.5", "$500 to $1,100.50"),
        ("price-trumpet-student", "500–1100", "500 1100", "$500 to $1,100"),
        ("life-trumpet", "8, 16", "8 16", "8 to 16 years"),
        ("upkeep-trumpet", "75", "75", "$75 a year"),
        ("minutes-intake_inspect", "10, 20, 40", "10 20 40", "10 to 40 minutes, usually 20"),
        ("odds-tuning_slide-hand", "35", "0.35", "35% of tries"),
        (TIME_ZONE, "America/New_York", "America/New_York", "Eastern (New York)"),
    ],
)
def test_what_is_accepted_is_kept_in_one_form_and_said_with_its_unit(key, typed, kept, said):
    assert RULES[key].read(typed) == kept
    assert RULES[key].in_words(kept) == said


def test_prices_lives_minutes_and_chances_lie_over_the_catalog_and_leave_the_rest():
    values = {
        "price-trumpet-student": "900 1400.5", "life-trumpet": "8 16", "upkeep-trumpet": "75",
        "minutes-intake_inspect": "5 10 15", "odds-tuning_slide-hand": "0.35",
    }  # fmt: skip
    trade = load_catalog(FOLDER, None, laid_over(RULES, values))
    ours, theirs = trade.kinds["trumpet"], TRADE.kinds["trumpet"]
    assert ours.prices["student"] == (Decimal(900), Decimal("1400.5"))
    assert ours.prices["intermediate"] == theirs.prices["intermediate"]
    assert (ours.life_years, ours.upkeep, ours.origin) == ((8, 16), Decimal(75), Origin.DISTRICT)
    assert trade.methods["intake_inspect"].minutes == (5, 10, 15)
    hand, soak = trade.ladders["tuning_slide"].rungs[:2]
    assert (hand.p, hand.origin) == (0.35, Origin.DISTRICT)
    assert soak == TRADE.ladders["tuning_slide"].rungs[1]
    assert trade.kinds["cornet"].prices == TRADE.kinds["cornet"].prices


def test_figures_lie_over_the_catalog_and_say_whose_they_are():
    values = {"bench_rate_amount": "42.5", SCHOOL_YEAR_ENDS: "06-12", "care-bath-months": "9", TIME_ZONE: "UTC"}
    trade = load_catalog(FOLDER, None, laid_over(RULES, values))
    assert trade.settings["bench_rate_amount"] == Decimal("42.5")
    assert (trade.settings["school_year_ends_month"], trade.settings["school_year_ends_day"]) == (6, 12)
    assert trade.intervals["bath"].months == 9
    assert trade.intervals["bath"].idle_months == TRADE.intervals["bath"].idle_months
    assert trade.setting_notes["bench_rate_amount"].origin_words == "set by the district"
    assert trade.setting_notes["shop_rate_per_hour"].origin_words == "shop default"


def test_the_district_s_own_folder_lies_between(tmp_path):
    (tmp_path / "settings.yaml").write_text(
        "settings:\n  bench_rate_amount:\n    value: 33\n  shop_rate_per_hour:\n    value: 90\n", encoding="utf-8"
    )
    beneath = figure_rules(load_catalog(FOLDER, tmp_path), time_zone="UTC")
    assert (beneath["bench_rate_amount"].default, beneath["shop_rate_per_hour"].default) == ("33", "90")
    trade = load_catalog(FOLDER, tmp_path, laid_over(beneath, {"bench_rate_amount": "42.5"}))
    assert (trade.settings["bench_rate_amount"], trade.settings["shop_rate_per_hour"]) == (Decimal("42.5"), 90)


def test_a_figure_whose_entry_the_catalog_has_lost_changes_nothing():
    assert laid_over(RULES, {"gone_long_ago": "3"}) == ()
    trade = load_catalog(FOLDER, None, (("settings", "gone_long_ago", "value", 3),))
    assert trade.settings == TRADE.settings


def test_zones_are_called_what_people_call_them():
    usual, others = (dict(choices) for _, choices in zone_choices())
    assert usual["America/Chicago"] == "Central (Chicago)"
    assert others["Europe/Berlin"] == "Berlin, Europe"
    assert zone_words("UTC") == "UTC"
    assert {*usual, *others} == known_zones()
