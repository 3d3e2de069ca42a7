from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.models import Figure
from inventory.pages.figures import LONG, groups_of, history_of, line_of, next_words, origin_words, tally_of
from inventory.selectors.figures import rules
from tests.factories import NOW, TODAY

RULES = rules()
RATE = RULES["bench_rate_amount"]
LATER = Figure(pk=2, key=RATE.key, value="45", effective_on=TODAY + timedelta(days=30), set_at=NOW)
SET = Figure(pk=1, key=RATE.key, value="40", effective_on=TODAY, set_at=NOW)


def test_every_figure_has_its_line_once():
    given = {"values": {}, "rows": {}, "to_come": {}}
    groups = [one for only in ("", *LONG) for one in groups_of(RULES, only=only, **given)]
    urls = [line["url"] for group in groups for line in group["lines"]]
    assert len(urls) == len({*urls}) == len(RULES)
    assert {group["code"] for group in groups if group["is_shut"]} == LONG


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("HOUR bench", {"An hour at our own bench"}),  # by its name, in any order
        ("inspection counts", {"An inspection counts for"}),
        ("money hour shop", {"An hour at a shop"}),  # by its topic too
        ("no such words", set()),
    ],
)
def test_a_figure_is_found_by_each_word_of_name_note_and_topic(typed, found):
    groups = groups_of(RULES, values={}, rows={}, to_come={}, typed=typed)
    names = {line["name"] for group in groups for line in group["lines"]}
    assert found <= names
    assert len(names) < len(RULES) / 4
    assert bool(names) is bool(found)


def test_a_topic_counts_its_figures_and_the_district_s_own():
    money = groups_of(RULES, values={RATE.key: "40"}, rows={RATE.key: SET}, to_come={})[0]
    assert money["tally"] == f"{len(money['lines'])}, 1 your own"
    assert tally_of([{"is_own": False}] * 3) == "3"


def test_a_line_says_value_unit_and_where_it_comes_from():
    line = line_of(RATE, value="40", row=SET, next_row=LATER)
    assert (line["value"], line["origin"], line["next"]) == (
        "$40 an hour",
        "set by the district on Sep 14, 2026",
        "$45 an hour from Oct 14, 2026",
    )
    plain = line_of(RATE, value="", row=None, next_row=None)
    assert (plain["value"], plain["origin"], plain["next"]) == (
        "$30 an hour",
        "shop default, replace with your own",
        "",
    )


@pytest.mark.parametrize(
    ("key", "words"), [("repair_limit", "common practice"), ("time_zone", "shop default, replace with your own")]
)
def test_what_lies_beneath_says_its_origin(key, words):
    assert origin_words(RULES[key], value="", row=None) == words


def test_one_given_back_says_the_default():
    back = Figure(pk=3, key=RATE.key, value="", effective_on=TODAY, set_at=NOW)
    assert next_words(RATE, back) == "$30 an hour from Sep 14, 2026"
    assert history_of(RATE, [back], next_row=None, reasons={})[0]["value"] == "$30 an hour, the default"


def test_only_what_comes_next_can_be_called_off():
    lines = history_of(RATE, [LATER, SET], next_row=LATER, reasons={1: "Bid of June"})
    assert [(one["value"], one["from"], one["may_call_off"]) for one in lines] == [
        ("$45 an hour", "Oct 14, 2026", True),
        ("$40 an hour", "Sep 14, 2026", False),
    ]
    assert lines[0]["set"] == "set up on Sep 14, 2026"
    assert [line["because"] for line in lines] == ["", "Bid of June"]
