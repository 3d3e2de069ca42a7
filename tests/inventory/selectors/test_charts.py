from __future__ import annotations

from dataclasses import replace

from inventory.catalog.chart_schema import Backing, Fingering
from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.models import ChartConfirmation
from inventory.selectors.charts import (
    canonical,
    chart_digest,
    chart_line_of,
    chart_lines,
    is_unconfirmed,
    known_charts,
    unconfirmed_chart,
)
from inventory.services.charts import confirm_chart
from tests.factories import NOW, TODAY


def confirm(code, director):
    return confirm_chart(code=code, digest=chart_digest(code), actor=director, on=TODAY, at=NOW)


def test_a_flute_is_marked_until_its_chart_is_confirmed(director):
    flute = known_charts()["flute"]
    assert unconfirmed_chart(flute) == "flute"
    confirm("flute", director)
    assert unconfirmed_chart(flute) == ""


def test_a_chart_that_changed_after_its_confirmation_is_marked_again(director):
    confirm("flute", director)
    ChartConfirmation.objects.update(digest="f" * 64)
    assert unconfirmed_chart(known_charts()["flute"]) == "flute"
    line = next(line for line in chart_lines() if line.chart.code == "flute")
    assert line.has_changed
    assert line.is_open


def test_a_published_chart_costs_no_query(db, django_assert_num_queries):
    with django_assert_num_queries(0):
        assert not is_unconfirmed(known_charts()["trumpet"])
        assert not is_unconfirmed(None)


def test_every_chart_is_on_the_list_with_one_query_and_what_waits_stands_first(db, django_assert_num_queries):
    with django_assert_num_queries(1):
        lines = chart_lines()
    assert {line.chart.code for line in lines} == set(known_charts())
    waits = [line.is_open for line in lines]
    assert waits == sorted(waits, reverse=True)
    assert any(waits)


def test_every_kind_with_a_chart_is_named_on_one(db):
    named = {name for line in chart_lines() for name in line.kinds}
    assert {kind.name for kind in catalog().kinds.values() if chart_of(kind, {})} <= named


def test_the_digest_follows_content_and_not_the_order_of_sets():
    assert canonical(frozenset("abc")) == canonical(frozenset("cba"))
    assert canonical({"a": 1, "b": 2}) == canonical({"b": 2, "a": 1})
    assert canonical(("a", "b")) != canonical(("b", "a"))
    assert len({chart_digest(code) for code in known_charts()}) == len(known_charts())


def test_what_stands_behind_a_fingering_is_no_part_of_what_was_confirmed():
    usual = known_charts()["flute"].fingerings["C4"][0]
    assert canonical(usual) == canonical(replace(usual, backed=Backing.UNSURE))
    assert canonical(usual) != canonical(replace(usual, register=2))


def test_a_fingering_is_written_as_it_was_when_charts_were_first_confirmed():
    """Another wording would make every stored confirmation lapse, though the chart is what it was."""
    known = Fingering(("Oct",), ("neckVent",), "bell", frozenset({"b", "a"}), frozenset(), frozenset(), 2, Backing.TWO)
    assert canonical(known) == (
        "(press=['Oct'],keys=['neckVent'],sounds_from='bell',must_seal=<'a','b'>,must_open=<>,vents=<>,register=2)"
    )


def test_one_chart_is_read_as_on_the_list(director):
    confirm("flute", director)
    line = chart_line_of("flute")
    assert line == next(one for one in chart_lines() if one.chart.code == "flute")
    assert line.confirmation.confirmed_by == director
    assert chart_line_of("kazoo") is None
