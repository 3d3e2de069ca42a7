"""Files against the hashes that their rows keep of them: each is there and as it was when it was kept."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import cast

from django.core.exceptions import SuspiciousOperation
from django.core.files.storage import Storage
from django.db import models

from core.traces import called, registered

PIECE = 1 << 20  # bytes held at a time, however large the file


def file_differences() -> Iterator[str]:
    """Yield a sentence for each file of a registered model that is missing, unreadable, or not what its hash says."""
    for trace in registered():
        for column, hash_column in trace.files.items():
            yield from _differ(trace.model, column, hash_column)


def _differ(model: type[models.Model], column: str, hash_column: str) -> Iterator[str]:
    field = cast("models.FileField", model._meta.get_field(column))
    rows = model._base_manager.exclude(**{column: ""}).exclude(**{f"{column}__isnull": True})
    last, digest, wrong = None, "", ""
    # By name: what several rows share is read once.
    for pk, name, expected in rows.order_by(column, "pk").values_list("pk", column, hash_column).iterator(2000):
        if name != last:
            digest, wrong = _read(field.storage, name)
            last = name
        label = column.replace("_", " ")
        if wrong:
            yield f"{called(model, pk)}: {label}: {wrong}"
        elif not expected:
            yield f"{called(model, pk)}: {label}: no hash is kept of the file {name}, so it cannot be compared"
        elif digest != expected:
            yield f"{called(model, pk)}: {label}: the file {name} is not the one that was kept"


def _read(storage: Storage, name: str) -> tuple[str, str]:
    """Return the hash of a file, and why it could not be read, or ""."""
    try:
        digest = hashlib.sha256()
        with storage.open(name, "rb") as stored:
            while piece := stored.read(PIECE):
                digest.update(piece)
    except FileNotFoundError:
        return "", f"the file {name} is missing"
    except (OSError, SuspiciousOperation):
        return "", f"the file {name} cannot be read"
    return digest.hexdigest(), ""
