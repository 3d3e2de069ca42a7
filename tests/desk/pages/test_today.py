"""Stock by kind, in words a director would say."""

from __future__ import annotations

import pytest

from desk.pages.today import stock_lines, stock_words

NONE = {"code": "trumpet", "name": "Trumpet", "total": 0, "ready": 0, "limited": 0, "kept_in": 0, "bench": 0, "out": 0}


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ({"ready": 3, "bench": 2, "out": 15}, "3 may go out, 2 on the bench, 15 lent"),
        ({"ready": 2, "limited": 1}, "3 may go out, 1 of them with limits"),
        ({"kept_in": 1}, "none may go out, 1 stays in"),
        ({"kept_in": 2, "out": 1}, "none may go out, 2 stay in, 1 lent"),
    ],
)
def test_a_kind_is_said_as_a_director_would(counts, words):
    assert stock_words(NONE | counts) == words


def test_a_line_leads_to_all_of_its_kind():
    line = stock_lines([NONE | {"total": 4, "out": 4}])[0]
    assert line["url"] == "/instruments/?kind=trumpet"
    assert line["is_short"]
    assert not stock_lines([NONE | {"limited": 1}])[0]["is_short"]
