"""What leaves the system as a file, noted in the log."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from core.acts import service
from core.events import record_event
from core.models import User


@service(once="nonce")
def note_export(
    *, what: str, form: str, rows: int, school: int | None = None, actor: User, at: datetime, nonce: UUID | None = None
) -> None:
    """Log who took which list along, as what sort of file and how long it is. What was searched for is not said.

    ``school`` is the key of the one school whose rows they are; None: of several.
    """
    record_event(act="exported", subject=actor, tenant=school, after={"what": what, "form": form, "rows": rows})
