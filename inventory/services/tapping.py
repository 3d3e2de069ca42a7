"""A tap that reaches the server twice counts once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from uuid import UUID

from core.acts import service
from core.models import User
from inventory.models import Inspection


@service(once="key")
def take_tap(*, inspection: Inspection, key: UUID | None, actor: User, at: datetime, act: Callable[[], object]) -> None:
    """Do what was tapped in one act, unless this tap was applied before.

    A phone that lost the answer sends the tap again. A refused tap leaves no key behind and may be sent again.
    """
    act()
