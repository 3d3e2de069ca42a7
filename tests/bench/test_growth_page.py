"""The page about growth holds what was measured, and nothing else. Common practice, no source."""

from __future__ import annotations

import json
from xml.etree import ElementTree as ET

from tests.bench.growth_page import CHART, DATA, DRAWN, PAGE, chart, page_with

ROWS = json.loads(DATA.read_text(encoding="utf-8"))


def test_the_tables_are_those_of_the_figures():
    text = PAGE.read_text(encoding="utf-8")
    assert page_with(text, ROWS) == text
    other = [row | {"later_cpu_ms": 12_345.0} for row in ROWS]
    assert "| 12 s |" in page_with(text, other)


def test_the_chart_is_that_of_the_figures():
    drawn = CHART.read_text(encoding="utf-8")
    assert chart(ROWS) == drawn
    names = {text for title in ET.fromstring(drawn).iter("{http://www.w3.org/2000/svg}text") if (text := title.text)}  # noqa: S314
    assert set(DRAWN) <= names
