"""A request to buy instruments is filed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import lock_name, service
from core.events import plain, record_event
from core.exceptions import RefusedError
from core.models import User
from core.traces import as_left
from inventory.models import PurchaseRequest, School


@dataclass(frozen=True, slots=True)
class Wanted:
    """So many new instruments of one kind, size and make, at one price each."""

    kind: str
    size: str
    make: str
    count: int
    each: Decimal
    ready_on: date | None = None


@service
def request_purchase(
    *,
    school: School,
    lines: Sequence[Wanted],
    seated: int,
    wanted: int,
    actor: User,
    at: datetime,
    needed_by: date | None = None,
    for_whom: str = "",
) -> PurchaseRequest:
    """File what a school asks for; with it ``seated`` of the ``wanted`` seats there are filled.

    Refuses what was filed already that day.
    """
    if not lines or any(line.count < 1 for line in lines):
        raise RefusedError(gettext("A purchase request asks for one instrument or more."))
    if filed_today(school=school, lines=lines, at=at):
        raise RefusedError(gettext("The same purchase request was filed today."))
    request = PurchaseRequest.objects.create(
        school=school,
        lines=_plain(lines),
        for_whom=for_whom[:400],
        needed_by=needed_by,
        seated=seated,
        wanted=wanted,
        asked_at=at,
        asked_by=actor,
    )
    after = as_left(request, "lines", "needed_by", "seated", "wanted")
    record_event(act="purchase_requested", subject=request, tenant=school.pk, after=after)
    return request


def filed_today(*, school: School, lines: Sequence[Wanted], at: datetime) -> PurchaseRequest | None:
    """Return the request for the same that was filed this day, inside an act that then files none or its own."""
    lock_name(f"purchase request {school.pk}")
    rows = PurchaseRequest.objects.filter(school=school, asked_at__date=timezone.localdate(at)).for_table()
    asked = _plain(lines)
    return next((row for row in rows if row.lines == asked), None)


def _plain(lines: Sequence[Wanted]) -> list[dict[str, Any]]:
    return [plain(asdict(line)) for line in lines]
