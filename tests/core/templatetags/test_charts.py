"""A chart on a page and on paper."""

from __future__ import annotations

from django.template.loader import render_to_string

from core.charts import Chart, Series, Tone
from core.templatetags.charts import chart, key_of

ONE = Chart("need", "Cost", "It rises by <b>half</b>.", "bars", ["2027"], [Series("Expected", [100])])


def test_a_page_has_both_sizes_and_paper_one():
    page, paper = (render_to_string("core/chart.html", chart(ONE, size)) for size in ("page", "paper"))
    assert (page.count("chart-drawing"), paper.count("chart-drawing")) == (2, 1)
    assert "<figcaption>It rises by &lt;b&gt;half&lt;/b&gt;.</figcaption>" in page


def test_several_series_have_a_key():
    two = Chart("v", "V", "S", "stacked", ["Elm"], [Series("Plays", [1], Tone.GOOD), Series("Stuck", [1], Tone.LIMIT)])
    html = render_to_string("core/chart.html", chart(two))
    assert html.count("<li>") == 2
    assert "chart-hatch" in html.split("pic-key")[1]
    assert key_of("Plays", Tone.GOOD)["is_hatched"] is False


def test_without_figures_there_are_words_alone():
    none = Chart("v", "V", "Nothing is known yet.", "line", ["Jan"], [Series("Index", [None])])
    html = render_to_string("core/chart.html", chart(none))
    assert "svg" not in html
    assert "Nothing is known yet." in html
