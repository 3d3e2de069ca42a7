"""A row that does not hold is refused in words, before the database refuses it in its own."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models

from inventory.exceptions import RefusedError


def check_row(
    row: models.Model,
    *,
    names_columns: bool = False,
    refusal: type[RefusedError] = RefusedError,
    validate_unique: bool = True,
    validate_constraints: bool = True,
) -> None:
    """Raise ``refusal`` with every complaint of ``full_clean``, with ``names_columns`` each under its column.

    The last two go to ``full_clean``: False where the service answers for that itself.
    """
    try:
        row.full_clean(validate_unique=validate_unique, validate_constraints=validate_constraints)
    except ValidationError as error:
        said = [(name.replace("_", " ").capitalize(), " ".join(texts)) for name, texts in error.message_dict.items()]
        raise refusal(" ".join(f"{name}: {text}" if names_columns else text for name, text in said)) from None
