"""Which result of a play test the notes and words bear out. Common practice, no source."""

from __future__ import annotations

from collections.abc import Collection

from core.translation import gettext as _


def contradiction(
    result: str, *, failed: Collection[str], weak: Collection[str], limits_text: str, note: str
) -> tuple[str, str] | None:
    """Return what is wrong with a result: the field that has to change, and a sentence; None where nothing is."""
    if result == "limits" and not limits_text.strip():
        return "limits_text", _("Say in words what the limits are.")
    if result == "fail" and not (failed or weak or note.strip()):
        return "note", _("Name the notes that failed or were weak, or describe what went wrong.")
    if result == "pass" and failed:
        return "result", _("Notes are marked as failed. Say limits or fail, or mark them as speaking.")
    return None
