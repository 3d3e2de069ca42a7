"""Archives in words."""

from __future__ import annotations

from core.models import Event
from desk.pages.archives import archive_lines
from tests.factories import NOW

SAID = {
    "first_day": "2025-07-01", "last_day": "2026-06-30", "events": 3, "sha256": "ab", "public_key": "k", "file": "a.zip",
}  # fmt: skip


def test_an_archive_can_be_taken_while_its_file_is_there():
    event = Event(number=9, at=NOW, after=SAID)
    assert archive_lines([event], there={"a.zip"})[0]["url"] == "/log/archives/9.zip"
    gone = archive_lines([event], there=set())[0]
    assert (gone["url"], gone["year"], gone["who"]) == ("", "Jul 1, 2025 – Jun 30, 2026", "")
