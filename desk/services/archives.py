"""An archive that was made, in the log."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from core.acts import service
from core.events import record_event
from core.models import User
from desk.selectors.archives import MADE
from inventory.models import District


@service
def note_archive(*, district: District, details: Mapping[str, Any], actor: User | None, at: datetime) -> None:
    """Log that an archive was made, with its hash."""
    record_event(act=MADE, subject=district, after=details)
