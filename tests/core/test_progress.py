"""How far it is, said from anywhere and heard once a second. Common practice, no source."""

from __future__ import annotations

import pytest

from core import progress

pytestmark = pytest.mark.pure


def test_it_is_heard_once_a_second_and_each_phase_and_the_end_at_once(monkeypatch):
    heard, clock = [], iter([0.0, 0.5, 1.2, 1.3, 1.4])
    monkeypatch.setattr(progress, "monotonic", lambda: next(clock))
    with progress.progress_to(lambda *said: heard.append(said)):
        for said in ((1, 9, ""), (2, 9, ""), (3, 9, ""), (4, 9, "drawing"), (9, 9, "drawing")):
            progress.report_progress(said[0], said[1], phase=said[2])
    assert heard == [(1, 9, ""), (3, 9, ""), (4, 9, "drawing"), (9, 9, "drawing")]


def test_rows_are_passed_on_and_nobody_need_listen():
    heard = []
    assert list(progress.counted("abc", total=3)) == ["a", "b", "c"]
    with progress.progress_to(lambda *said: heard.append(said)):
        assert list(progress.counted("ab", total=2, phase="rows")) == ["a", "b"]
    assert heard == [(1, 2, "rows"), (2, 2, "rows")]
