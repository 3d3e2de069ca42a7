"""The day's sheet shrinks its type until it fits one page, and says so when nothing fits."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pypdfium2
import pytest

from core.pdf import PdfTooLongError
from desk.pdf import bench_day_pdf
from desk.selectors.bench_day import bench_day
from tests.factories import NOW
from tests.repairs.makers import make_job


@pytest.fixture
def day(school, tech):
    make_job(school=school)
    return bench_day(tech, bench=None, starts_at=NOW + timedelta(days=1), hours=4.0)


@pytest.mark.parametrize("lines", [1, 25])
def test_a_day_is_one_page(day, lines):
    full = replace(day, stretches=tuple(day.stretches[0] for _ in range(lines)))
    assert len(pypdfium2.PdfDocument(bench_day_pdf(full))) == 1


def test_a_day_that_fits_no_page_is_refused(day):
    with pytest.raises(PdfTooLongError):
        bench_day_pdf(replace(day, stretches=tuple(day.stretches[0] for _ in range(50))))
