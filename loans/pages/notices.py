"""What was told to families, in words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from core.days import full_day, short_day
from loans.models import Notice


def notice_lines(notices: Iterable[Notice]) -> list[dict[str, Any]]:
    """A line for each notice: of what, what became of it, and what may be done about it."""
    return [
        {
            "notice": notice,
            "what": what_of(notice),
            "became": became_of(notice),
            "is_back": notice.came_back_at is not None,
            "may_undo": notice.came_back_at is not None and notice.came_back_to_id is not None,
            "may_come_back": notice.handed_at is not None and notice.came_back_at is None,
        }
        for notice in notices
    ]


def what_of(notice: Notice) -> str:
    """Return "Overdue" or, from the second time on, "Overdue, reminder 2"."""
    if notice.round == 1:
        return notice.get_sort_display()
    return _("%(sort)s, reminder %(number)d") % {"sort": notice.get_sort_display(), "number": notice.round}


def notice_words(notice: Notice) -> str:
    """Return how a family was told, as it stands beside what it was told of: "told by mail on Sep 21"."""
    if notice.came_back_at is not None or notice.dropped_at is not None:
        return became_of(notice)
    is_mail = notice.way == Notice.Way.EMAIL
    if notice.handed_at is None:
        return _("e-mail waiting to be sent") if is_mail else _("letter waiting to be printed")
    words = _("e-mailed on %(day)s") if is_mail else _("letter printed on %(day)s")
    return words % {"day": short_day(timezone.localdate(notice.handed_at))}


def became_of(notice: Notice) -> str:
    """Return which way it went and when, or why it did not."""
    is_mail = notice.way == Notice.Way.EMAIL
    if notice.came_back_at is not None:
        day = full_day(timezone.localdate(notice.came_back_at))
        if notice.handed_at is None:
            return _("E-mail refused by the mail server, %(day)s") % {"day": day}
        words = _("E-mail came back, noted %(day)s") if is_mail else _("Letter came back, noted %(day)s")
        return words % {"day": day}
    if notice.dropped_at is not None:
        return _("Not sent: no longer true on %(day)s") % {"day": full_day(timezone.localdate(notice.dropped_at))}
    if notice.handed_at is not None:
        words = _("E-mailed %(day)s") if is_mail else _("Printed %(day)s")
        return words % {"day": full_day(timezone.localdate(notice.handed_at))}
    return _("E-mail, waiting to be sent") if is_mail else _("Letter, waiting to be printed")
