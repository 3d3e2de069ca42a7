"""What is kept of wrong tries to log in. Old rows are deleted in the nightly run."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from django.apps import apps

TRIES_KEPT_FOR: Final = timedelta(days=2)  # no cap looks back further than a day (core/caps.py)

# Model, and its column that says how old a row is. What counts tries belongs here, whoever counts.
COUNTED: dict[str, str] = {
    "core.LogInTry": "at",
}
# These say themselves until when they hold.
EXPIRING: dict[str, str] = {"core.OneTimeLink": "expires_at"}


def forget_tries(*, at: datetime) -> int:
    """Delete tries to log in that are long past, and one-time links that nobody used. Returns how many rows went."""
    bounds = [(COUNTED, at - TRIES_KEPT_FOR), (EXPIRING, at)]
    return sum(
        apps.get_model(model)._base_manager.filter(**{f"{column}__lt": bound}).delete()[0]
        for columns, bound in bounds
        for model, column in columns.items()
    )
