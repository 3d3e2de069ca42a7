"""Where free text names a student."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from core.free_text import Typed, typed_texts
from inventory.models import Instrument
from loans.models import Agreement, Student
from loans.rules.redaction import Redaction, redaction_for


@dataclass(frozen=True, slots=True)
class NamedIn:
    """Texts that certainly name a student or guardian, and those where a word may be the name."""

    sure: tuple[Typed, ...]
    unsure: tuple[Typed, ...]  # only about instruments the student had


def redaction_of(student: Student, *, nicknames: Sequence[str] = ()) -> Redaction:
    """Return what to look for in texts about this student, including guardian and signers."""
    signers = Agreement.objects.filter(loan__student=student).values_list("guardian_signer", flat=True)
    return redaction_for(
        names=[student.name, student.guardian_name, *signers], contacts=[student.guardian_contact], nicknames=nicknames
    )


def named_in(student: Student, redaction: Redaction) -> NamedIn:
    """Search all free text of the school, and of instruments the student had, wherever they are now."""
    had = frozenset(student.loans.values_list("instrument_id", flat=True))
    sure, unsure = [], []
    for typed in typed_texts(tenant=student.school_id, threads=had):
        if redaction.is_named_in(typed.text):
            sure.append(typed)
        if typed.thread in had and redaction.may_be_named_in(typed.text):
            unsure.append(typed)
    return NamedIn(sure=tuple(sure), unsure=tuple(unsure))


@dataclass(frozen=True, slots=True)
class Place:
    """A text where a word may be the student's name, with a check box."""

    key: str
    where: str
    text: str
    is_checked: bool


@dataclass(frozen=True, slots=True)
class PlacesToRedact:
    sure_count: int
    unsure: tuple[Place, ...]


def places_to_redact(student: Student, *, nicknames: Sequence[str], checked: Mapping[str, bool]) -> PlacesToRedact:
    """Return what erasing would remove. ``checked``: the boxes that were on the page before; new ones start checked."""
    found = named_in(student, redaction_of(student, nicknames=nicknames))
    numbers = dict(
        Instrument.objects.filter(pk__in={typed.thread for typed in found.unsure}).values_list("pk", "asset_number")
    )
    places = (
        Place(
            key=typed.key,
            where=f"{numbers.get(typed.thread or 0, '')}, {typed.model._meta.verbose_name}",
            text=typed.text,
            is_checked=checked.get(typed.key, True),
        )
        for typed in found.unsure
    )
    return PlacesToRedact(sure_count=len(found.sure), unsure=tuple(places))
