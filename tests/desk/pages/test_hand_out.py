from __future__ import annotations

from desk.pages.hand_out import found_lines, station_url
from desk.selectors.hand_out import Found
from tests.factories import make_instrument, make_student


def test_a_line_leads_on_with_what_stands_at_the_station_already(school):
    student = make_student(school=school, name="Robin Reed", grade="6")
    instrument = make_instrument(school=school)
    number = instrument.asset_number
    (line,) = found_lines(Found(students=[student]), student=None, number=number)
    assert line["url"] == station_url(student=student.pk, number=number)
    assert line["under"] == f"grade 6 · {school} · nothing assigned"
    assert "Robin" not in line["url"]
    (line,) = found_lines(Found(instruments=[instrument]), student=student.pk, number="")
    assert line["url"] == station_url(student=student.pk, number=number)
