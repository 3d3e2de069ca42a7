"""What stops a command or the server for a reason outside the code, in one sentence instead of a traceback."""

from __future__ import annotations

from django.db import OperationalError, ProgrammingError


def sentence(error: BaseException) -> str | None:
    """Return what to tell whoever started it; None where the traceback is what helps."""
    from inventory.catalog.load import CatalogError  # after the settings: they may be what is wrong

    if isinstance(error, CatalogError):
        count = len(error.problems)
        more = f", and {count - 1} more: see manage.py check_catalog" if count > 1 else ""
        first = str(error.problems[0]).replace(": : ", ": ")  # of the whole file, under no key
        return f"HORNBOOK_CATALOG_DIR: {first}{more}"
    if not isinstance(error, OperationalError | ProgrammingError):
        return None
    text = str(error).strip().partition("\n")[0].rstrip(".")
    if "no such table" in text or "no such column" in text or ("does not exist" in text and "relation" in text):
        return f"The database is not of this version ({text}). `make serve` brings it up to date."
    if isinstance(error, ProgrammingError):
        return None
    return f"The database does not answer: {text}. See whether its server runs and what DATABASE_URL says."
