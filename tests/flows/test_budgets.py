"""Every act stays within its number of SQL statements."""

from __future__ import annotations

from tests.bench.acts import act_figures


def test_every_act_stays_within_its_statements(db):
    figures = list(act_figures())
    assert len(figures) == 7
    assert [f"{one.what}: {one.queries}" for one in figures if one.is_missed] == []
