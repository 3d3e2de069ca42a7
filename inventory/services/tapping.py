"""A tap that reaches the server twice counts once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from inventory.models import Inspection, Tap


@transaction.atomic
def take_tap(*, inspection: Inspection, key: UUID | None, at: datetime, act: Callable[[], object]) -> bool:
    """Do ``act`` unless this tap was taken before; says whether it was done now.

    A phone that lost the answer sends the tap again. The key is kept in the transaction of the act, so a refused
    tap leaves no key behind and may be sent again.
    """
    if key is not None:
        try:
            with transaction.atomic():
                Tap.objects.create(inspection=inspection, key=key, taken_at=at)
        except IntegrityError:
            return False
    act()
    return True
