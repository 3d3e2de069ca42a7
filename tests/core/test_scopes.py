from __future__ import annotations

from datetime import UTC, datetime

from core import scopes

AT = datetime(2026, 9, 14, 15, 0, tzinfo=UTC)


def test_everything_registered_is_entered_once_with_the_moment(monkeypatch):
    monkeypatch.setattr(scopes, "_entries", [])
    met = []
    scopes.register(met.append)
    scopes.register(met.append)
    scopes.enter_all(AT)
    assert met == [AT]
