"""Refuse an invalid row in words, before the database does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext

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
        row.full_clean(validate_unique=validate_unique, validate_constraints=False)
    except ValidationError as error:
        errors = [(name.replace("_", " ").capitalize(), " ".join(texts)) for name, texts in error.message_dict.items()]
        raise refusal(" ".join(f"{name}: {text}" if names_columns else text for name, text in errors)) from None
    for model, constraints in row.get_constraints() if validate_constraints else ():
        for constraint in constraints:
            try:
                constraint.validate(model, row)
            except ValidationError:
                raise refusal(constraint_words(constraint)) from None


def constraint_words(constraint: models.BaseConstraint) -> str:
    """Say what a row broke; the services refuse almost all of it before, in words of their own.

    Django's own sentence would name the constraint, which is a name in the database.
    """
    if constraint.violation_error_message != constraint.default_violation_error_message:
        return str(constraint.violation_error_message)
    if isinstance(constraint, models.UniqueConstraint):
        return gettext("The same entry is already there, so nothing was saved. Reload the page to see it.")
    return gettext("What was entered does not fit together, so nothing was saved. Check the amounts and dates.")


def save_columns(row: models.Model, *, check: Callable[[Any], None] = check_row, **columns: Any) -> list[str]:
    """Check and write these columns, and no other, of a row that the act has locked; return those that changed."""
    changed = [name for name, value in columns.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, columns[name])
    check(row)
    if changed:
        row.save(update_fields=changed)
    return changed
