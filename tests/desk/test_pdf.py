"""The day's sheet shrinks its type until it fits one page; a long day takes more."""

from __future__ import annotations

from datetime import timedelta

import pypdfium2
import pytest

from desk.pages.bench_day import bench_day
from desk.pdf import bench_day_pdf
from desk.selectors.bench_day import planned_day
from tests.factories import NOW
from tests.repairs.makers import make_job


@pytest.fixture
def day(school, tech):
    make_job(school=school)
    return bench_day(planned_day(tech, bench=None, starts_at=NOW + timedelta(days=1), hours=4.0))


@pytest.mark.parametrize("lines", [1, 18])
def test_a_day_is_one_page(day, lines):
    full = day | {"stretches": tuple(day["stretches"][0] for _ in range(lines))}
    assert len(pypdfium2.PdfDocument(bench_day_pdf(full))) == 1


@pytest.mark.drill
def test_a_long_day_takes_more_pages_and_loses_no_line(day):
    full = day | {"stretches": tuple(day["stretches"][0] for _ in range(60))}
    pages = pypdfium2.PdfDocument(bench_day_pdf(full))
    text = "".join(page.get_textpage().get_text_range() for page in pages)
    assert len(pages) > 1
    assert text.count("____ min") == 60
    assert f"1 / {len(pages)}" in text
