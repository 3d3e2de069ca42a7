"""What the database itself refuses, whoever asks."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db import IntegrityError, transaction


def refused(act: Callable[[], object]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        act()
