"""How somebody left a list: no event, it says nothing of what the district has."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from core.acts import service
from core.models import User


@service
def keep_list(*, name: str, kept: Mapping[str, Any], actor: User, at: datetime) -> None:
    """Keep how the actor left the list of this name; nothing to keep makes it as it was first."""
    row = User.objects.select_for_update(no_key=True).get(pk=actor.pk)
    lists = {other: one for other, one in row.lists.items() if other != name}
    row.lists = lists | ({name: dict(kept)} if kept else {})
    row.save(update_fields=["lists"])
    actor.lists = row.lists
