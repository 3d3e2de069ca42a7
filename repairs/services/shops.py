"""The outside shops on the district's list."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from inventory.exceptions import RefusedError
from inventory.services.checking import check_row, save_columns
from repairs.models import Shop


@service(once="nonce")
def add_shop(*, actor: User, at: datetime, nonce: UUID | None = None, **texts: Any) -> Shop:
    """Put a shop on the district's list: its name, and perhaps contact, address and note."""
    shop = Shop(**{name: text.strip() for name, text in texts.items()})
    _check_name(shop)
    check_row(shop)
    shop.save(force_insert=True)
    record_event(act="shop_added", subject=shop)
    return shop


@service
def change_shop(*, shop: Shop, is_used: bool, actor: User, at: datetime, **texts: Any) -> Shop:
    """Correct a shop; one that is no longer used is not offered, and keeps its orders."""
    fresh = lock_row(shop)
    _check_name(Shop(pk=shop.pk, name=texts["name"].strip()))
    save_columns(fresh, is_used=is_used, **{name: text.strip() for name, text in texts.items()})
    record_event(act="shop_changed", subject=fresh, after={"is_used": is_used})
    return fresh


def _check_name(shop: Shop) -> None:
    if Shop.objects.filter(name__iexact=shop.name).exclude(pk=shop.pk).exists():
        raise RefusedError(gettext("%(shop)s is already on the list.") % {"shop": shop.name})
