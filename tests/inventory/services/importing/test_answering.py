"""What somebody says of a list: once for a word, once for a column's dates, and rows put right on the page."""

from __future__ import annotations

import pytest

from inventory.exceptions import RefusedError
from inventory.models import ImportBatch, ImportRow, Instrument, ListRemark
from inventory.services.importing import answer_list, judge_more, mend_rows, publish_import
from tests.factories import NOW, TODAY
from tests.inventory.services.importing.makers import make_judged
from tests.opening import differences

pytestmark = pytest.mark.django_db
LIST = (
    b"Instrument,Brand / Model,Serial,Bought on,Price,Condition,Case? (Y/N)\n"
    b"Sax,Plain / AS-1,1,3/4/2019,$900,2nd key sticks,N\n"
    b"sax #2,Plain / AS-1,2,3/4/2019,$900,,Y\n"
    b"Trumpit,Plain - T1,3,5/6/2019,#REF!,,Y\n"
    b"Total,,3,,$1800,,\n"
)


def judge(batch) -> ImportBatch:
    return judge_more(batch=batch, today=TODAY)


def states(batch) -> list[str]:
    return list(batch.rows.order_by("number").values_list("state", flat=True))


def test_a_word_and_a_columns_order_are_asked_once_and_the_answers_hold_for_all_rows(school):
    batch = make_judged(school=school, data=LIST)
    assert states(batch) == ["problem", "problem", "problem", "skipped"]
    assert batch.asked["kinds"] == {"sax": 2}
    assert batch.asked["orders"]["3"] == {"order": "ask", "row": 2, "text": "3/4/2019"}
    answer_list(batch=batch, kinds={"sax": "sax_alto"}, orders={3: "day_month"}, actor=batch.actor, at=NOW)
    batch = judge(batch)
    assert states(batch) == ["new", "new", "problem", "skipped"]
    mend_rows(batch=batch, cells={4: {0: "Trumpet", 4: "800"}}, actor=batch.actor, at=NOW)
    batch = judge(batch)
    assert (states(batch), batch.rows_new, batch.rows_skipped) == (["new", "new", "new", "skipped"], 3, 1)
    publish_import(batch=batch, actor=batch.actor, at=NOW, today=TODAY)
    first, _second, third = Instrument.objects.order_by("serial")
    assert (first.kind_code, first.maker, first.model, first.acquired_by) == ("sax_alto", "Plain", "AS-1", "bought")
    assert str(first.acquired_on) == "2019-04-03"
    assert "Brand / Model: Plain / AS-1" in first.notes
    assert (third.kind_code, third.maker, third.model, str(third.acquisition_cost_amount)) == (
        "trumpet", "Plain", "T1", "800.00",
    )  # fmt: skip
    remarks = ListRemark.objects.filter(instrument=first)
    assert list(remarks.values_list("text", flat=True)) == ["2nd key sticks", "Case? (Y/N): N"]
    assert first.verdict == "not_inspected"
    batch.refresh_from_db()
    assert batch.answers == {}
    assert differences()[1] == []


def test_answers_add_up_and_a_cell_put_right_twice_is_what_was_said_last(school):
    batch = make_judged(school=school, data=LIST)
    mend_rows(batch=batch, cells={4: {0: "Flute"}}, actor=batch.actor, at=NOW)
    mend_rows(batch=batch, cells={4: {0: "Trumpet"}, 2: {0: "Alto sax"}}, actor=batch.actor, at=NOW)
    answer_list(batch=batch, kinds={"sax": "sax_alto"}, orders={}, actor=batch.actor, at=NOW)
    batch = judge(batch)
    assert batch.answers == {
        "rows": {"4": {"0": "Trumpet"}, "2": {"0": "Alto sax"}}, "kinds": {"sax": "sax_alto"}, "orders": {},
    }  # fmt: skip
    assert ImportRow.objects.get(batch=batch, number=4).cells[0] == "Trumpet"


@pytest.mark.parametrize(
    ("kinds", "orders"),
    [({"sax": "no_such"}, {}), ({"trumpet": "flute"}, {}), ({}, {3: "year_first"}), ({}, {3: "ask"})],
)
def test_an_answer_that_is_none_is_refused(school, kinds, orders):
    batch = make_judged(school=school, data=LIST)
    with pytest.raises(RefusedError):
        answer_list(batch=batch, kinds=kinds, orders=orders, actor=batch.actor, at=NOW)


def test_a_published_or_unmapped_list_takes_no_answer(school):
    batch = make_judged(school=school)
    publish_import(batch=batch, actor=batch.actor, at=NOW, today=TODAY)
    with pytest.raises(RefusedError, match="no longer open"):
        mend_rows(batch=batch, cells={4: {0: "Flute"}}, actor=batch.actor, at=NOW)
    with pytest.raises(RefusedError, match="4000"):
        mend_rows(batch=batch, cells={4: {0: "x" * 4001}}, actor=batch.actor, at=NOW)
