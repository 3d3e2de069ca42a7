"""Charts: the figures are where they belong, words for who cannot see them, nothing that a page or paper refuses."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest

from core.charts import SIZES, Chart, Series, Tone, draw_chart, scale_to

NS = {"svg": "http://www.w3.org/2000/svg"}


def make_chart(**overrides: object) -> Chart:
    fields = {
        "code": "need",
        "title": "Cost & time",
        "summary": "It rises from $100 to <$400>.",
        "form": "bars",
        "labels": ["2027", "2028", "2029"],
        "series": [Series("Expected", [100, 200, 400], ranges=[(50, 150), None, (300, 500)])],
        "formatter": lambda value: f"${value:,.0f}",
    }
    return Chart(**(fields | overrides))


def drawn(chart: Chart, **given: str) -> ET.Element:
    return ET.fromstring(draw_chart(chart, **given))  # noqa: S314 - our own text


def bars(root: ET.Element, tone: str = "main") -> list[dict[str, float]]:
    found = root.iterfind(f".//svg:rect[@class='chart-{tone}'][@height]", NS)
    return [{name: float(one.get(name)) for name in ("x", "y", "width", "height")} for one in found if one.get("x")]


def labels(root: ET.Element) -> list[str]:
    return [one.text for one in root.iterfind(".//svg:text", NS)]


def test_bars_are_as_high_as_their_figures():
    heights = [one["height"] for one in bars(drawn(make_chart()))]
    assert heights[1] / heights[0] == pytest.approx(2, abs=0.01)
    assert heights[2] / heights[0] == pytest.approx(4, abs=0.01)


def test_whiskers_stand_where_there_is_a_range_alone():
    assert len(drawn(make_chart()).findall(".//svg:g[@class='chart-whisker']", NS)) == 2


def test_stacked_bars_are_as_wide_as_their_figures_in_the_order_given():
    chart = make_chart(
        form="stacked",
        labels=["Elm", "Oak"],
        series=[Series("Plays", [30, 10], Tone.GOOD), Series("Does not", [10, 40], Tone.STOP)],
        formatter=str,
    )
    root = drawn(chart)
    good, stop = bars(root, "good"), bars(root, "stop")
    by_height = sorted(good, key=lambda one: one["y"])  # the first label stands at the top
    assert by_height[0]["width"] / by_height[1]["width"] == pytest.approx(3, abs=0.02)
    assert sorted(one["width"] for one in stop)[1] / by_height[0]["width"] == pytest.approx(4 / 3, abs=0.02)
    assert set(labels(root)) >= {"Elm", "Oak"}


def test_a_line_stops_where_nothing_is_known():
    chart = make_chart(form="line", labels=list("abcd"), series=[Series("Index", [1, 2, None, 4])])
    root = drawn(chart)
    assert len(root.findall(".//svg:circle", NS)) == 3
    paths = [one.get("d") for one in root.iterfind(".//svg:path[@class='chart-line-main']", NS)]
    assert not any(
        path.count(" ") > 4 and "L" in path and len(re.findall(r"[\d.]+ [\d.]+", path)) > 2 for path in paths
    )


def test_steps_rise_where_the_next_figure_stands():
    chart = make_chart(form="steps", labels=[], xs=[0, 100, 500], series=[Series("Seats", [10, 12, 15])])
    (path,) = drawn(chart).iterfind(".//svg:path[@class='chart-line-main']", NS)
    points = [tuple(map(float, one)) for one in re.findall(r"([\d.]+) ([\d.]+)", path.get("d"))]
    assert len(points) == 5
    assert all(one[0] == other[0] or one[1] == other[1] for one, other in pairwise(points))


@pytest.mark.parametrize("size", SIZES)
def test_a_chart_says_in_words_what_it_shows(size):
    root = drawn(make_chart(), size=size)
    said = {one.get("id"): one.text for one in (*root.iterfind("svg:title", NS), *root.iterfind("svg:desc", NS))}
    assert root.get("role") == "img"
    assert [said[key] for key in root.get("aria-labelledby").split()] == [
        "Cost & time",
        "It rises from $100 to <$400>.",
    ]
    assert len(root.findall(".//svg:title", NS)) == len(root.findall(".//svg:desc", NS)) == 1


@pytest.mark.parametrize("form", ["bars", "stacked", "line"])
def test_it_holds_nothing_that_the_content_security_policy_refuses_and_no_date(form):
    text = draw_chart(make_chart(form=form))
    assert not re.search(r"<script|<style|style=|<!--|http://(?!www\.w3\.org/2000/svg)|\son\w+=", text)
    assert text == draw_chart(make_chart(form=form))


def test_tones_differ_without_color():
    """Common practice, no source: hatched, dashed, light and dark."""
    series = [Series(tone, [1], tone) for tone in (Tone.GOOD, Tone.LIMIT, Tone.STOP, Tone.NONE)]
    root = drawn(make_chart(form="stacked", labels=["Elm"], series=series, formatter=str))
    looks = {
        (one.get("fill"), one.get("stroke-dasharray"))
        for one in root.iterfind(".//svg:rect", NS)
        if one.get("x") and one.get("class")
    }
    assert len(looks) == 4
    assert ("url(#chart-need-wide-hatch)", None) in looks


def test_of_many_labels_some_are_shown():
    chart = make_chart(labels=[f"Year {year}" for year in range(40)], series=[Series("n", [1] * 40)])
    shown = [one for one in labels(drawn(chart, size="phone")) if one and one.startswith("Year")]
    assert 2 <= len(shown) <= 6
    long = make_chart(form="stacked", labels=["A school with a very long name indeed"], series=[Series("n", [1])])
    assert any(one.endswith("…") for one in labels(drawn(long, size="phone")))


@pytest.mark.parametrize(
    ("highest", "scale"),
    [
        (0, [0, 1]),
        (4, [0, 1, 2, 3, 4]),
        (7, [0, 2, 4, 6, 8]),
        (100, [0, 20, 40, 60, 80, 100]),
        (28_700, [0, 5_000, 10_000, 15_000, 20_000, 25_000, 30_000]),
        (0.12, [0, 0.02, 0.04, 0.06, 0.08, 0.1, 0.12]),
    ],
)
def test_a_scale_goes_in_steps_of_one_two_or_five(highest, scale):
    assert scale_to(highest) == scale


def test_a_chart_without_figures_is_empty():
    assert make_chart(series=[Series("n", [None])]).is_empty
    assert not make_chart().is_empty
