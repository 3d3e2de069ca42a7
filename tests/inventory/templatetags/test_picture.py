"""The drawings as SVG: well formed, linked, said in words, printable."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET  # our own output
from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest
from django.template import engines

from inventory.catalog.load import catalog
from inventory.rules.picture.shapes import Mark
from inventory.rules.picture.trend import TrendTest
from inventory.rules.verdict import EffectGroup
from inventory.templatetags.picture import parts_heading

SVG = "{http://www.w3.org/2000/svg}"
MARKS = {
    "third_valve_slide": Mark(group=EffectGroup.LIMITS, text="seized <hard>"),
    "tuning_slide_water_key": Mark(group=EffectGroup.STOPS, text="spring broken"),
    "finish": Mark(group=EffectGroup.LOOKS, text="worn"),
}


def drawn(text: str, **context: Any) -> str:
    return engines["django"].from_string("{% load picture %}" + text).render(context)


def path_of(size: str, **context: Any) -> ET.Element:
    kind = catalog().kinds["trumpet"]
    links = {part.code: f"/walk/{part.code}/" for part in kind.parts}
    html = drawn(
        "{% air_path kind marks=marks links=links size=size %}",
        kind=kind,
        marks=MARKS,
        links=links,
        size=size,
        **context,
    )
    return ET.fromstring(html)  # noqa: S314


@pytest.mark.parametrize("size", ["page", "phone", "wide", "small"])
def test_the_air_path_is_well_formed_and_named(size):
    figure = path_of(size)
    pictures = list(figure.iter(f"{SVG}svg"))
    big = [svg for svg in pictures if svg.find(f"{SVG}title") is not None]
    assert bool(big[0].get("aria-labelledby")) is (size != "small")  # on paper several of a kind may stand together
    assert len(big) == (2 if size == "page" else 1)
    for svg in big:
        title = svg.find(f"{SVG}title")
        assert title is not None
        assert title.text == "Air path: Trumpet"
    ids = [element.get("id") for element in figure.iter() if element.get("id")]
    assert len(ids) == len(set(ids))


def test_only_what_is_blown_has_an_air_path():
    kinds = catalog().kinds
    headings = {code: str(parts_heading(kinds[code])) for code in ("trumpet", "flute", "bell_kit", "violin")}
    assert headings == {"trumpet": "Air path", "flute": "Air path", "bell_kit": "Parts", "violin": "Parts"}


def test_every_station_links_to_where_the_caller_says():
    figure = path_of("phone")
    hrefs = {link.get("href") for link in figure.iter(f"{SVG}a")}
    assert hrefs == {f"/walk/{part.code}/" for part in catalog().kinds["trumpet"].parts}


def test_the_list_says_the_same_as_the_picture():
    figure = path_of("page")
    lines = ["".join(item.itertext()) for item in figure.iter("li") if item.find("a") is not None]
    assert len(lines) == len(catalog().kinds["trumpet"].parts)
    assert any("third valve slide" in line and "seized <hard>" in line and "limits playing" in line for line in lines)


def test_each_group_has_its_own_shape():
    figure = path_of("phone")
    signs = {
        element.get("class"): element.tag.removeprefix(SVG)
        for element in figure.iter()
        if (element.get("class") or "") in {"pic-stops", "pic-limits", "pic-looks"}
    }
    assert signs == {"pic-stops": "rect", "pic-limits": "path", "pic-looks": "circle"}


def test_the_small_picture_is_for_paper_one_color_no_links():
    figure = path_of("small")
    assert not list(figure.iter(f"{SVG}a"))
    inks = {element.get(name) for element in figure.iter() for name in ("fill", "stroke")} - {None, "none"}
    assert all(ink[1:3] == ink[3:5] == ink[5:7] for ink in inks if ink), inks


def test_weasyprint_draws_the_small_picture(tmp_path):
    """An independent renderer: the PDF of every kind's picture has ink on it (rasterized by PDFium)."""
    pdfium = pytest.importorskip("pypdfium2")
    weasyprint = pytest.importorskip("weasyprint")
    for code in ("trumpet", "horn_double", "clarinet_bb", "snare_kit"):
        html = drawn('{% air_path kind size="small" %}', kind=catalog().kinds[code])
        data = weasyprint.HTML(string=html).write_pdf()
        page = pdfium.PdfDocument(data)[0].render(scale=1).to_pil().convert("L")
        dark = sum(page.histogram()[:128])
        assert dark > 500, code


def make_result(written: str, state: str, cents: float | None = 0.0, fingering: object = "") -> SimpleNamespace:
    return SimpleNamespace(written=written, sounding=60, state=state, cents=cents, fingering=fingering)


def test_notes_are_drawn_with_a_sentence_below():
    notes = [
        make_result("C4", "usual"),
        make_result("D4", "off", 30.3),
        make_result("Eb4", "lost", None),
        make_result("F#4", "other_fingering"),
    ]
    html = drawn('{% staff_notes notes clef="treble" size="phone" %}', notes=notes)
    figure = ET.fromstring(html)  # noqa: S314
    assert "Of 4 first-year notes: 1 as usual, 1 by another fingering, 1 off pitch, 1 lost." in "".join(
        figure.itertext()
    )
    svg = next(svg for svg in figure.iter(f"{SVG}svg") if svg.get("role") == "img")
    assert "E♭4 lost" in (svg.get("aria-label") or "")
    assert {state for state in ("usual", "other_fingering", "off", "lost") if f'class="staff-{state}"' in html} == {
        "usual",
        "other_fingering",
        "off",
        "lost",
    }


def test_a_note_that_is_only_weak_shows_no_cents():
    weak = make_result("C4", "off", 0.0)
    weak.is_weak = True
    html = drawn('{% staff_notes notes clef="treble" size="phone" %}', notes=[weak])
    assert 'class="staff-off"' in html
    assert "−0" not in html


def test_no_notes_at_all_still_makes_a_sentence():
    assert "No first-year notes are listed" in drawn("{% staff_notes notes %}", notes=[])


def test_the_trend_is_well_formed_in_every_size_and_says_each_test():
    tests = [
        TrendTest(on=date(2025, 3, 1), mean=2.0, low=-4, high=9, tuning=1.0),
        TrendTest(on=date(2026, 3, 1), mean=-8.0, failed=2),
    ]
    for size, count in (("page", 2), ("phone", 1), ("small", 1)):
        text = drawn(f'{{% play_trend tests fitted=fitted size="{size}" %}}', tests=tests, fitted=(2.0, -8.0))
        figure = ET.fromstring(text)  # noqa: S314
        pictures = [node for node in figure.iter(f"{SVG}svg") if node.get("role") == "img"]
        assert len(pictures) == count
        assert all("Mar 1, 2026, −8 cents on average, 2 notes failed" in one.get("aria-label") for one in pictures)


def test_the_trend_for_paper_has_one_color():
    text = drawn('{% play_trend tests size="small" %}', tests=[TrendTest(on=date(2025, 3, 1), mean=2.0, failed=1)])
    assert set(re.findall(r'(?:fill|stroke)="(#[0-9a-f]{6})"', text)) <= {"#000000", "#ffffff"}
