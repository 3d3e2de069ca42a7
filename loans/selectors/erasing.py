"""Where a student is named."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db.models import Model

from core.free_text import Typed, typed_texts
from inventory.models import Instrument
from loans.models import Agreement, Student
from loans.rules.redaction import Redaction, redaction_for


@dataclass(frozen=True, slots=True)
class NamedIn:
    """Texts that certainly name a student or guardian, and those where a word may be the name."""

    sure: tuple[Typed, ...]
    unsure: tuple[Typed, ...]  # only about instruments the student had, and in what is short


def redaction_of(student: Student, *, nicknames: Sequence[str] = ()) -> Redaction:
    """Return what to look for in texts about this student, including guardians and signers."""
    signers = Agreement.objects.filter(loan__student=student).values_list("guardian_signer", flat=True)
    guardians = list(student.guardians.all())
    return redaction_for(
        names=[student.name, *(guardian.name for guardian in guardians), *signers],
        contacts=[
            text for one in guardians for text in (one.email, one.phone, one.contact, *one.address.splitlines()[:1])
        ],
        nicknames=[*nicknames, student.number],  # the number may as well be another, a serial number for instance
    )


def named_in(student: Student, redaction: Redaction) -> NamedIn:
    """Search all free text of the school, and of instruments the student had, wherever they are now."""
    had = frozenset(student.loans.values_list("instrument_id", flat=True))
    sure, unsure = [], []
    for typed in typed_texts(tenant=student.school_id, threads=had):
        if redaction.is_named_in(typed.text):
            sure.append(typed)
        if (typed.is_short or typed.thread in had) and redaction.may_be_named_in(typed.text):
            unsure.append(typed)
    return NamedIn(sure=tuple(sure), unsure=tuple(unsure))


def texts_of(student: Student, *, keys: Collection[str]) -> list[Typed]:
    """Return the texts with these keys, among those where a student may be named."""
    if not keys:
        return []
    had = frozenset(student.loans.values_list("instrument_id", flat=True))
    return [typed for typed in typed_texts(tenant=student.school_id, threads=had) if typed.key in keys]


def with_places(found: Sequence[Typed]) -> list[tuple[str, Typed]]:
    """Return each text once, its row before its revisions, after where it stands: the instrument's number, what it is."""
    numbers = dict(
        Instrument.objects.filter(pk__in={typed.thread for typed in found}).values_list("pk", "asset_number")
    )
    once = {typed.same: typed for typed in reversed(found)}
    return [
        (", ".join(filter(None, (numbers.get(typed.thread or 0), str(model_of(typed)._meta.verbose_name)))), typed)
        for typed in reversed(once.values())
    ]


def places_to_redact(student: Student, *, nicknames: Sequence[str], checked: Mapping[str, bool]) -> dict[str, Any]:
    """Return what erasing would remove, and texts where a word may be the student's name.

    ``checked``: the boxes that were on the page before; new ones start checked.
    """
    found = named_in(student, redaction_of(student, nicknames=nicknames))
    places = (
        {
            "key": typed.key,
            "where": where,
            "text": typed.text,
            "is_checked": checked.get(typed.key, True),
        }
        for where, typed in with_places(found.unsure)
    )
    return {"sure_count": len({typed.same for typed in found.sure}), "unsure": tuple(places)}


def model_of(typed: Typed) -> type[Model]:
    """Return the model of the row that the text is, or was, in."""
    return apps.get_model(typed.home.partition(":")[0])
