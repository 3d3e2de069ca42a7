"""A list becomes instruments and loans in one act: all of it, or nothing."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from typing import NamedTuple

from django.utils.translation import gettext

from core.models import User
from desk.selectors.listed import Out, Person
from inventory.exceptions import RefusedError
from inventory.models import ImportBatch, Instrument, School
from inventory.services.importing import Published, Vouched, publish_import
from loans.models import Student
from loans.services import Listed, add_student, lend_as_listed

NEW, NEW_STAFF, NEW_GROUP, NOBODY = "new", "staff", "group", "nobody"
WHO = {NEW: Student.Who.STUDENT, NEW_STAFF: Student.Who.STAFF, NEW_GROUP: Student.Who.GROUP}


class Lent(NamedTuple):
    """Who has what, as it was confirmed. ``who`` is a person's key to a student, NOBODY, or what is new."""

    people: Sequence[Person]
    who: Mapping[str, Student | str]
    since: date | None  # for rows that do not say
    due_on: date
    is_signed_elsewhere: bool

    def choice(self, person: Person) -> Student | str:
        return self.who.get(person.key, NOBODY)

    @property
    def out(self) -> list[Out]:
        """The rows whose instruments are out."""
        return [one for person in self.people if self.choice(person) != NOBODY for one in person.out]


def publish_with_loans(
    *,
    batch: ImportBatch,
    lent: Lent,
    vouched: Vouched,
    actor: User,
    at: datetime,
    today: date,
    also: Callable[[int], None] | None = None,
) -> Published:
    """Write every new row, the students who are not there yet, and a loan for each row that somebody has.

    A row of an instrument that was registered before gets its loan alone. Sent twice it writes nothing the second
    time. Raises RefusedError and writes nothing. ``also`` is done in the same transaction, with how many were written.
    """
    out = lent.out
    if lent.since is None and not all(one.since for one in out):
        raise RefusedError(gettext("Enter the date the instruments went out."))
    registered = {one.row: one.instrument for one in out if one.instrument}

    def lend(written: Mapping[int, Instrument]) -> None:
        instruments = {**written, **registered}
        schools = {one.school.code: one.school for one in instruments.values()}
        listed = []
        for person in lent.people:
            choice = lent.choice(person)
            mine = [one for one in person.out if one.row in instruments]
            if choice == NOBODY or not mine:
                continue
            if isinstance(choice, Student):
                student = choice
            else:
                student = _added(batch, person, schools, who=WHO[choice], actor=actor, at=at)
            for one in mine:
                days = one.since or lent.since or today, one.due_on or lent.due_on
                listed.append(Listed(instruments[one.row], student, *days, nonce=_key(batch, f"loan:{one.row}")))
        if listed:
            lend_as_listed(listed=listed, is_signed_elsewhere=lent.is_signed_elsewhere, actor=actor, at=at)
        if also:
            also(len(written))

    return publish_import(
        batch=batch,
        actor=actor,
        at=at,
        today=today,
        vouched=vouched._replace(out=frozenset(one.row for one in out)),
        follow=lend if out or also else None,
        registered=registered.values(),
    )


def _added(
    batch: ImportBatch, person: Person, schools: Mapping[str, School], *, who: str, actor: User, at: datetime
) -> Student:
    key = _key(batch, person.key)
    grade = person.kept_grade if who == Student.Who.STUDENT else ""
    return add_student(
        school=schools[person.school], name=person.name, grade=grade, who=who, actor=actor, at=at, nonce=key
    )


def _key(batch: ImportBatch, what: str) -> uuid.UUID:
    """The key by which an act of this list counts once."""
    return uuid.uuid5(uuid.NAMESPACE_OID, f"import:{batch.pk}:{what}")
