"""A request to buy instruments is filed, and closed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext

from core.acts import lock_name, lock_row, service
from core.events import already, plain, record_event
from core.exceptions import RefusedError
from core.models import User
from core.traces import as_left
from inventory.models import PurchaseRequest, School
from inventory.rules.purchasing import already_requested
from inventory.services.checking import save_columns


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
    """File what a school asks for; with it ``seated`` of the ``wanted`` seats there are filled."""
    if not lines or any(line.count < 1 for line in lines):
        raise RefusedError(gettext("A purchase request asks for one instrument or more."))
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


@service
def close_purchase(*, purchase: PurchaseRequest, closed_as: str, actor: User, at: datetime) -> PurchaseRequest:
    """Close a request as bought or withdrawn; a plan then asks for what is still needed."""
    fresh = lock_row(purchase)
    if fresh.closed_at is not None:
        words = gettext("This purchase request has already been closed.")
        raise RefusedError(already(words, subject=fresh, acts=["purchase_closed"]))
    save_columns(fresh, closed_at=at, closed_by=actor, closed_as=closed_as)
    record_event(act="purchase_closed", subject=fresh, tenant=fresh.school_id, after={"as": closed_as})
    return fresh


def not_requested(*, school: School, lines: Iterable[Wanted]) -> list[Wanted]:
    """Return what the school's open requests do not ask for yet, inside an act that files it."""
    lock_name(f"purchase request {school.pk}")
    lines = list(lines)
    wanted = [((school.code, line.kind, line.size), line.count) for line in lines]
    there = already_requested(wanted, requested=PurchaseRequest.objects.filter(school=school).open().counts())
    left = (replace(line, count=line.count - requested) for line, requested in zip(lines, there, strict=True))
    return [line for line in left if line.count]


def _plain(lines: Sequence[Wanted]) -> list[dict[str, Any]]:
    return [plain(asdict(line)) for line in lines]
