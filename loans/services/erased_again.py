"""Erasing again, in a restored backup, whoever was erased after it was made."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from core.erasures import Erasure, note_erasure, noted_erasures
from loans.models import Student
from loans.services.erasing import erase_student, erasure_row


def erase_again(erasures: Iterable[Erasure], *, at: datetime) -> tuple[int, list[str]]:
    """Erase these students as they were erased; return how many, and a sentence where a person must look.

    The list holds no names, so a nickname that was typed on the page is no longer known: the texts that it was found
    in are erased whole. One that was changed between backup and erasing may still hold it, and a person must look.
    """
    count, words = 0, []
    for erasure in erasures:
        model, _, pk = erasure.row.partition(":")
        student = Student.objects.filter(pk=pk, erased_at=None).first() if model == Student._meta.label_lower else None
        if student is None:
            continue
        details = erasure.details
        meant = [str(key) for key in details.get("texts", [])]
        # A list written before it named these says only that there were nicknames: any of the texts may hold one.
        whole = [str(key) for key in details.get("whole", meant if details.get("nicknames") else [])]
        erase_student(
            student=student,
            actor=None,
            at=at,
            meant=meant,
            whole=whole,
            deletes_papers_early=bool(details.get("papers")),
            even_if_out=True,
        )
        count += 1
        if details.get("nicknames"):
            words.append(
                f"student {pk} was erased with other names too, which the list does not hold; erased whole: "
                f"{', '.join(whole) or 'no text'}. Look through what was typed about the instruments they had."
            )
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
