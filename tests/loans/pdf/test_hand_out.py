"""The hand-out list, read back by another program."""

import pypdfium2
import pytest

from loans.pages.assigning import hand_out_groups
from loans.pdf import hand_out_pdf
from loans.selectors.assigning import lines_of
from tests.factories import TODAY, make_ready_instrument, make_school, make_student
from tests.loans.makers import make_assignment, make_period, make_seat

pytestmark = pytest.mark.django_db


def test_each_class_has_its_page_with_who_gets_what():
    school = make_school(name="Elm Street Middle")
    first, second = (make_period(school=school, name=f"Period {n}", place=n) for n in (1, 2))
    for name, place in (("Zoé Zorn", first), ("Ana <b>Rivera</b>", first), ("Ben Long", second)):
        make_seat(student=make_student(school=school, name=name), place=place, kind_code="trumpet")
        make_ready_instrument(school=school)
    make_seat(student=make_student(school=school, name="Nobody Served"), place=second, kind_code="tuba")
    lines = lines_of(make_assignment(school=school))
    pages = pypdfium2.PdfDocument(hand_out_pdf(lines[0].assignment, hand_out_groups(lines), today=TODAY))
    texts = [page.get_textpage().get_text_range() for page in pages]
    assert len(texts) == 2
    assert "Period 1" in texts[0]
    assert texts[0].index("<b>Rivera</b>, Ana") < texts[0].index("Zorn, Zoé")
    assert "Long, Ben" in texts[1]
    assert "Served, Nobody" not in "".join(texts)
    for line in lines:
        if line.instrument is not None:
            assert line.instrument.asset_number in "".join(texts)
