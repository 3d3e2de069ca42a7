"""Erasing again, in a restored backup, whoever was erased after it was made."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from core.erasures import Erasure, note_erasure, noted_erasures
from loans.models import Student
from loans.services.erasing import erase_student, erasure_row


def erase_again(erasures: Iterable[Erasure], *, at: datetime) -> tuple[int, list[str]]:
    """Erase these students as they were erased; return how many, and a sentence where a person must look.

    The list holds no names, so words of a name that were typed on the page, such as a nickname, are not known any more.
    """
    count, words = 0, []
    for erasure in erasures:
        model, _, pk = erasure.row.partition(":")
        student = Student.objects.filter(pk=pk, erased_at=None).first() if model == Student._meta.label_lower else None
        if student is None:
            continue
        meant = [str(key) for key in erasure.details.get("texts", [])]
        erase_student(
            student=student,
            actor=None,
            at=at,
            meant=meant,
            deletes_papers_early=bool(erasure.details.get("papers")),
            even_if_out=True,
        )
        count += 1
        if erasure.details.get("nicknames"):
            words.append(f"student {pk} was erased with other names too; look through: {', '.join(meant) or 'no text'}")
    return count, words


def note_forgotten() -> int:
    """Append to the list of erasures whoever is erased and not on it, as after a full disk; return how many."""
    listed = {erasure.row for erasure in noted_erasures()}
    missing = [
        (row, moment)
        for pk, moment in Student.objects.exclude(erased_at=None).order_by("pk").values_list("pk", "erased_at")
        if moment is not None and (row := erasure_row(pk)) not in listed
    ]
    for row, moment in missing:
        note_erasure(row=row, at=moment)
    return len(missing)
