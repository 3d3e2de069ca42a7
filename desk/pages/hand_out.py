"""What a station shows of what it found, each with where a tap leads."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext

from desk.selectors.hand_out import ClassProgress, Found
from loans.pages.assigning import TROUBLE_WORDS


def station_url(*, student: int | None = None, number: str = "") -> str:
    """Return the station's address with the student, the instrument, or both in front of it; keys and numbers only."""
    page = reverse("desk:hand-out-to", args=[student]) if student else reverse("desk:hand-out")
    return f"{page}?{urlencode({'instrument': number})}" if number else page


def found_lines(found: Found, *, student: int | None, number: str) -> list[dict[str, Any]]:
    """Return what was found as lines to tap. ``student`` and ``number`` are those at the station already."""
    lines = []
    for one in found.students:
        line, out = found.planned.get(one.pk), getattr(one, "out", 0)
        if line:
            to_get = str(line.instrument)
        else:
            to_get = gettext("has %(out)d out") % {"out": out} if out else gettext("nothing assigned")
        words = [gettext("grade %(grade)s") % {"grade": one.grade} if one.grade else "", str(one.school), to_get]
        url = station_url(student=one.pk, number=number)
        lines.append({"url": url, "title": one.sort_name or one.name, "under": " · ".join(filter(None, words))})
    for row in found.instruments:
        words = [row.kind.name, row.maker, row.get_whereabouts_display().lower()]
        url = station_url(student=student, number=row.asset_number)
        lines.append({"url": url, "title": row.asset_number, "under": " · ".join(filter(None, words))})
    return lines


def left_groups(classes: Iterable[ClassProgress]) -> list[dict[str, Any]]:
    """Return the classes with somebody to come, each line with the kind and with what stands in the way."""
    groups = []
    for one in classes:
        lines = [
            (row, " · ".join([row.kind_name, *([str(TROUBLE_WORDS[row.trouble])] if row.trouble else [])]))
            for row in one.to_come
        ]
        if lines:
            groups.append({"period": one.period, "lines": lines})
    return groups
