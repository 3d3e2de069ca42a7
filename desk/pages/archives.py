"""The archives of years in words."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date
from typing import Any

from django.urls import reverse

from core.days import full_day
from core.models import Event


def archive_lines(events: Iterable[Event], *, there: Collection[str]) -> list[dict[str, Any]]:
    """A line for each archive that was made; it can be taken while its file is still ``there``."""
    return [
        {
            "year": year_words(event.after["first_day"], event.after["last_day"]),
            "when": event.at,
            "who": event.actor.name if event.actor else "",
            "events": event.after["events"],
            "sha256": event.after["sha256"],
            "public_key": event.after["public_key"],
            "url": reverse("desk:archive", args=[event.number]) if event.after["file"] in there else "",
        }
        for event in events
    ]


def year_words(first: str, last: str) -> str:
    return f"{full_day(date.fromisoformat(first))} – {full_day(date.fromisoformat(last))}"
