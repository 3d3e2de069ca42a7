"""What became of a notice, in words."""

from __future__ import annotations

from loans.models import Notice
from loans.pages.notices import notice_lines, notice_words
from tests.factories import NOW


def test_each_state_is_said():
    rows = [
        Notice(sort="overdue", way="letter"),
        Notice(sort="overdue", way="email", round=2),
        Notice(sort="overdue", way="letter", handed_at=NOW),
        Notice(sort="overdue", way="email", handed_at=NOW),
        Notice(sort="overdue", way="email", handed_at=NOW, came_back_at=NOW),
        Notice(sort="overdue", way="email", came_back_at=NOW),
        Notice(sort="signature", way="letter", handed_at=NOW, came_back_at=NOW),
        Notice(sort="due_soon", way="email", dropped_at=NOW),
    ]
    lines = notice_lines(rows)
    assert [line["became"] for line in lines] == [
        "Letter, waiting to be printed",
        "E-mail, waiting to be sent",
        "Printed Sep 14, 2026",
        "E-mailed Sep 14, 2026",
        "E-mail came back, noted Sep 14, 2026",
        "E-mail refused by the mail server, Sep 14, 2026",
        "Letter came back, noted Sep 14, 2026",
        "Not sent: no longer true on Sep 14, 2026",
    ]
    assert [line["what"] for line in lines[:2]] == ["Overdue", "Overdue, reminder 2"]
    assert [line["may_come_back"] for line in lines] == [False, False, True, True, False, False, False, False]
    assert [notice_words(one) for one in rows[:5]] == [
        "letter waiting to be printed",
        "e-mail waiting to be sent",
        "letter printed on Sep 14",
        "e-mailed on Sep 14",
        "E-mail came back, noted Sep 14, 2026",
    ]
